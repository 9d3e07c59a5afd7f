import { district } from "../../src/demo/district.js";
import { type ReachedMessage, simulatedPeople } from "../../src/demo/volunteers.js";
import type { PersonRow } from "../../src/programme/rows.js";
import type { BatchRow } from "../../src/stock/rows.js";
import { nextContactInstant } from "../../src/time/local.js";

const HOUR = 3_600_000;
/** A Monday, 11:00 in the district. */
const MONDAY = Date.UTC(2025, 10, 24, 8);
const demo = district({ start: 1, startAtMs: MONDAY });
const people = simulatedPeople(demo);
const jar = demo.batches.at(-1) as BatchRow;

const named = (name: string) => demo.people.find((person) => person.name.startsWith(name)) as PersonRow;
const codes = Array.from({ length: 200 }, (_, i) => `K${String(i).padStart(3, "0")}X`);
const retest = (person: PersonRow, code: string, step: ReachedMessage["step"] = "first"): ReachedMessage => ({
	recipientId: person.id,
	code,
	step,
	asked: { kind: "strength", jar, sampleMl: 1, madeUpToL: 2 },
});
const answersOf = (person: PersonRow, step: ReachedMessage["step"] = "first") =>
	codes.map((code) => people.repliesTo(retest(person, code, step), MONDAY));

describe("simulated volunteers", () => {
	it("answer the same message at the same instant in the same way, in any order of asking", () => {
		const forward = codes.map((code) => people.repliesTo(retest(named("Asha"), code), MONDAY));
		const afresh = simulatedPeople(district({ start: 1, startAtMs: MONDAY }));
		const backward = [...codes].reverse().map((code) => afresh.repliesTo(retest(named("Asha"), code), MONDAY));
		expect(backward.reverse()).toEqual(forward);
	});

	it("write the code and a colour of the card that is near the truth of the jar", () => {
		const readings = answersOf(named("Asha")).flatMap((replies) => replies.slice(-1).map(({ body }) => body));
		for (const [i, body] of readings.entries())
			expect({ i, body }).toEqual({ i, body: expect.stringMatching(/^K\d{3}X [0-5]$/) });
		const mean = readings.reduce((sum, body) => sum + Number(body.slice(-1)), 0) / readings.length;
		// 1 mL in 2 L shows half the strength in g/L as mg/L; rounding to whole colours keeps the mean.
		const initial = demo.hidden.jars[jar.id]?.initialStrengthGPerL as number;
		expect(Math.abs(mean - initial / 2)).toBeLessThan(0.25);
	});

	it("read half as much where twice as much water is asked for", () => {
		const reading = (madeUpToL: number) => {
			const asked = { kind: "strength", jar, sampleMl: 1, madeUpToL } as const;
			const replies = codes.flatMap((code) => people.repliesTo({ ...retest(named("Asha"), code), asked }, MONDAY).slice(-1));
			return replies.reduce((sum, reply) => sum + Number(reply.reading), 0) / replies.length;
		};
		expect(reading(1.25) / reading(2.5)).toBeGreaterThan(1.7);
		expect(reading(1.25) / reading(2.5)).toBeLessThan(2.3);
	});

	it("type lower case or the value alone where that is their habit", () => {
		const last = (name: string) => answersOf(named(name)).flatMap((replies) => replies.slice(-1).map(({ body }) => body));
		// A second text after a garbled one is typed as the example shows it.
		const share = (bodies: string[], pattern: RegExp) => bodies.filter((body) => pattern.test(body)).length / bodies.length;
		expect(share(last("Baraka"), /^k\d{3}x [0-5]$/)).toBeGreaterThan(0.9);
		expect(share(last("Mariam"), /^[0-5]$/)).toBeGreaterThan(0.9);
	});

	it("write a decimal comma where that is their habit", () => {
		const household = demo.households.find(({ id }) => demo.hidden.water[id]?.recorded);
		const asked = {
			kind: "free chlorine",
			householdId: household?.id as string,
			jar,
			dose: { bleachMl: 7.5, waterL: 20, dosedAtMs: MONDAY },
		} as const;
		const bodies = codes.flatMap((code) =>
			people.repliesTo({ ...retest(named("Baraka"), code), asked }, MONDAY).map(({ body }) => body),
		);
		expect(bodies.some((body) => /^k\d{3}x \d,\d$/.test(body))).toBe(true);
		for (const body of bodies.slice(0, 5)) expect(body).not.toContain(".");
	});

	it("mostly answer within hours, most of those who are late only after the reminder", () => {
		const share = (name: string, step: ReachedMessage["step"]) =>
			answersOf(named(name), step).filter((replies) => replies.length > 0).length / 200;
		expect(share("Asha", "first")).toBeGreaterThan(0.85);
		expect(share("Daudi", "first")).toBeLessThan(0.45);
		expect(share("Daudi", "again")).toBeGreaterThan(0.4);
		const hours = answersOf(named("Asha")).flatMap((replies) => replies.slice(0, 1).map(({ afterMs }) => afterMs / HOUR));
		expect([...hours].sort((a, b) => a - b)[Math.floor(hours.length / 2)]).toBeLessThan(2);
	});

	it("answer a task once: who answered the first message doesn't answer the reminder", () => {
		for (const name of ["Asha", "Daudi"])
			for (const code of codes) {
				const steps = (["first", "again"] as const).filter(
					(step) => people.repliesTo(retest(named(name), code, step), MONDAY).length > 0,
				);
				expect(steps.length).toBeLessThanOrEqual(1);
			}
	});

	it("write nothing readable first in about 60 % where that is their habit, and a proper answer 10 to 40 minutes later", () => {
		const answers = answersOf(named("Furaha")).filter((replies) => replies.length > 0);
		const twice = answers.filter((replies) => replies.length === 2);
		expect(Math.abs(twice.length / answers.length - 0.6)).toBeLessThan(0.1);
		for (const [first, second] of twice) {
			expect(first?.body).not.toMatch(/^K\d{3}X [0-5]$/);
			expect(first?.body).not.toMatch(/^[0-5]$/);
			expect(second?.body).toMatch(/^K\d{3}X [0-5]$/);
			const minutes = ((second?.afterMs as number) - (first?.afterMs as number)) / 60_000;
			expect(minutes).toBeGreaterThanOrEqual(10);
			expect(minutes).toBeLessThanOrEqual(40);
		}
	});

	it("never answer: the one who never does, and the one whose phone no message reaches", () => {
		for (const name of ["Imani", "Lucien"])
			for (const step of ["first", "again"] as const) expect(answersOf(named(name), step).flat()).toEqual([]);
		expect(demo.people.filter(({ id }) => !people.reaches(id)).map(({ name }) => name)).toEqual(["Lucien (invented)"]);
	});

	it("answer in their contact hours only: nothing goes out in quiet hours or on a day off", () => {
		const friday = Date.UTC(2025, 10, 28, 15);
		for (const volunteer of demo.people.filter(({ role }) => role === "volunteer"))
			for (const code of codes.slice(0, 60))
				for (const { afterMs } of people.repliesTo(retest(volunteer, code), friday).slice(0, 1)) {
					const atMs = friday + afterMs;
					expect(nextContactInstant(atMs, { ...volunteer, timeZone: "Africa/Nairobi" })).toBe(atMs);
				}
	});

	it("answer a deed with the word that was asked for", () => {
		const message = { ...retest(named("Asha"), "K7M4X"), asked: { kind: "deed", word: "OK" } } as const;
		expect(people.repliesTo(message, MONDAY).at(-1)).toMatchObject({ body: "K7M4X OK", reading: null });
	});
});

describe("simulated supervisors", () => {
	it("go there within days when they are told that nobody answered, in about 85 %, and read the jar themselves", () => {
		const visits = answersOf(named("Odette"), "supervisor").flat();
		expect(Math.abs(visits.length / codes.length - 0.85)).toBeLessThan(0.08);
		for (const { via, reading, afterMs } of visits) {
			expect(via).toBe("visit");
			expect(Number(reading)).toBeGreaterThanOrEqual(0);
			expect(afterMs).toBeGreaterThanOrEqual(3 * HOUR);
			expect(afterMs).toBeLessThan(72 * HOUR);
		}
	});

	it("say nothing to any other message, and nor does the health office", () => {
		expect(answersOf(named("Odette"), "first").flat()).toEqual([]);
		expect(answersOf(named("Rehema"), "supervisor").flat()).toEqual([]);
	});
});
