import {
	afterWorkingMs,
	instantOfLocal,
	isTimeZone,
	localDateOf,
	localTimeOf,
	nextContactInstant,
} from "../../src/time/local.js";

const at = (iso: string) => Date.parse(iso);

describe("a local wall time as an instant", () => {
	// Source: RFC 5545 (2009) section 3.3.5 for New York 2007; the rest read from tzdata 2025c by Temporal's `compatible` rule.
	it.each([
		["America/New_York", "2007-03-11", "02:30", "2007-03-11T07:30:00Z", "left out: moves on by the gap"],
		["America/New_York", "2007-11-04", "01:30", "2007-11-04T05:30:00Z", "twice: the first"],
		["Europe/London", "2026-03-29", "01:30", "2026-03-29T01:30:00Z", "left out"],
		["Europe/London", "2026-10-25", "01:30", "2026-10-25T00:30:00Z", "twice"],
		["Africa/Cairo", "2026-04-24", "00:00", "2026-04-23T22:00:00Z", "midnight left out"],
		["Africa/Cairo", "2026-10-29", "23:30", "2026-10-29T20:30:00Z", "twice"],
		["Africa/Casablanca", "2026-02-15", "02:30", "2026-02-15T01:30:00Z", "twice, start of Ramadan time"],
		["Africa/Casablanca", "2026-03-22", "02:30", "2026-03-22T02:30:00Z", "left out"],
		["Asia/Beirut", "2026-03-29", "00:00", "2026-03-28T22:00:00Z", "midnight left out"],
		["America/Port-au-Prince", "2026-03-08", "02:30", "2026-03-08T07:30:00Z", "left out"],
		["Asia/Kathmandu", "2026-01-01", "08:00", "2026-01-01T02:15:00Z", "45 minutes off the hour"],
		// Published: the UK's Summer Time Order 2002 (last Sundays of March and October, 01:00 UTC); tzdata rules Chile (24:00 on the
		// first Saturday of April back, of September on), Egypt (last Friday of April 00:00 on, last Thursday of October 24:00 back),
		// LH (Lord Howe: 30 minutes, first Sundays of October on and April back, 02:00).
		["Europe/London", "2026-03-29", "00:59", "2026-03-29T00:59:00Z", "the minute before"],
		["Europe/London", "2026-03-29", "02:00", "2026-03-29T01:00:00Z", "the first minute after"],
		["America/Santiago", "2026-09-06", "00:00", "2026-09-06T04:00:00Z", "midnight left out"],
		["America/Santiago", "2026-04-04", "23:30", "2026-04-05T02:30:00Z", "twice: the first"],
		["Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-03T15:45:00Z", "30 minutes left out: is 02:45"],
		["Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-04T14:45:00Z", "30 minutes twice: the first"],
		["Africa/Nairobi", "2026-07-01", "08:00", "2026-07-01T05:00:00Z", "no changes of clocks"],
	])("%s %s %s is %s (%s)", (zone, date, time, expected) => {
		expect(new Date(instantOfLocal(date, time, zone)).toISOString()).toBe(new Date(expected).toISOString());
	});

	it("knows zones by region and place in old and new spelling, and neither offsets nor abbreviations", () => {
		for (const name of [
			"Africa/Nairobi",
			"Asia/Kolkata",
			"Asia/Calcutta",
			"America/Argentina/Buenos_Aires",
			"UTC",
			"America/Port-au-Prince",
		])
			expect([name, isTimeZone(name)]).toEqual([name, true]);
		for (const name of ["EST", "GMT+3", "+03:00", "africa/nairobi", "Africa/Nowhere", "", "Etc/GMT+3"])
			expect([name, isTimeZone(name)]).toEqual([name, false]);
	});
});

describe("the next instant at which a person may be written to", () => {
	const times = { timeZone: "America/New_York", workingDays: [1, 2, 3, 4, 5], quietFrom: "19:00", quietUntil: "07:00" };
	it.each([
		["on a working day at 10:00, at once", "2026-03-03T15:00:00Z", "2026-03-03T15:00:00Z"],
		["at 19:00 sharp, the next morning at 07:00", "2026-03-04T00:00:00Z", "2026-03-04T12:00:00Z"],
		["at 06:59, a minute later", "2026-03-03T11:59:00Z", "2026-03-03T12:00:00Z"],
		[
			"on Friday evening, on Monday, an hour of UTC earlier because the clocks went forward on Sunday",
			"2026-03-07T01:00:00Z",
			"2026-03-09T11:00:00Z",
		],
		[
			"on Friday evening in autumn, on Monday, an hour of UTC later because the clocks went back",
			"2026-10-31T00:00:00Z",
			"2026-11-02T12:00:00Z",
		],
	])("%s", (_, now, expected) => {
		expect(new Date(nextContactInstant(at(now), times)).toISOString()).toBe(new Date(expected).toISOString());
	});

	it.each([
		["Africa/Cairo", "2026-04-24", "2026-04-23T22:00:00Z", "midnight doesn't exist: at 01:00"],
		["America/Santiago", "2026-09-06", "2026-09-06T04:00:00Z", "midnight doesn't exist: at 01:00"],
		["Australia/Lord_Howe", "2026-10-04", "2026-10-03T13:30:00Z", "the clocks go forward half an hour later that night"],
	])("in %s on %s, for somebody whose quiet ends at midnight, is %s (%s)", (timeZone, date, expected) => {
		const night = { timeZone, workingDays: [1, 2, 3, 4, 5, 6, 7], quietFrom: "20:00", quietUntil: "00:00" };
		const evening = instantOfLocal(date, "00:00", timeZone) - 2 * 3_600_000;
		expect(new Date(nextContactInstant(evening, night)).toISOString()).toBe(new Date(expected).toISOString());
	});

	it.each([
		// 8 h of working time from Friday 16:00: one on Friday, 7 on Monday; the clocks change in between.
		["Europe/London", "2026-03-27T16:00:00Z", "2026-03-30T13:00:00Z"],
		["Europe/London", "2026-10-23T15:00:00Z", "2026-10-26T14:00:00Z"],
	])("counts working hours over a change of clocks in %s: 8 h from %s are over at %s", (timeZone, from, until) => {
		const office = { timeZone, workingDays: [1, 2, 3, 4, 5], quietFrom: "17:00", quietUntil: "07:00" };
		expect(new Date(afterWorkingMs(at(from), 8 * 3_600_000, office)).toISOString()).toBe(new Date(until).toISOString());
	});

	it("counts no working time on a holiday, and ends where there is none at all", () => {
		const office = { timeZone: "UTC", workingDays: [1, 2, 3, 4, 5], quietFrom: "17:00", quietUntil: "07:00" };
		expect(afterWorkingMs(at("2026-03-03T16:00:00Z"), 2 * 3_600_000, { ...office, holidays: ["2026-03-04"] })).toBe(
			at("2026-03-05T08:00:00Z"),
		);
		expect(afterWorkingMs(at("2026-03-03T16:00:00Z"), 1, { ...office, workingDays: [] })).toBe(at("2026-03-03T16:00:00Z"));
	});

	it("passes over a public holiday", () => {
		const next = nextContactInstant(at("2026-03-03T01:00:00Z"), { ...times, holidays: ["2026-03-03"] });
		expect(localTimeOf(next, times.timeZone)).toBe("2026-03-04 07:00");
	});

	it("reaches past midnight where quiet begins after it: 01:00 to 09:00", () => {
		const night = { ...times, quietFrom: "01:00", quietUntil: "09:00" };
		expect(nextContactInstant(at("2026-03-04T05:30:00Z"), night)).toBe(at("2026-03-04T05:30:00Z"));
		expect(localTimeOf(nextContactInstant(at("2026-03-04T06:00:00Z"), night), night.timeZone)).toBe("2026-03-04 09:00");
	});

	it("waits 15 days at most where all days are holidays", () => {
		const holidays = Array.from({ length: 30 }, (_, i) =>
			localDateOf(at("2026-03-03T17:00:00Z") + (i - 1) * 86_400_000, times.timeZone),
		);
		expect(nextContactInstant(at("2026-03-03T17:00:00Z"), { ...times, holidays })).toBe(at("2026-03-18T11:00:00Z"));
	});
});
