import ICAL from "ical.js";
import { DAY_MS } from "../../src/time/clock.js";
import { type Served, served } from "../api/served.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, type World } from "../support/world.js";

onEachDatabase("a person's calendar", (kind) => {
	let api: Served;
	let world: World;
	beforeAll(async () => {
		api = await served(kind);
		world = api.world;
		await aBatch(world, "B1");
		world.clock.moveTo((await world.batches.detail("B1")).forecast.retestAtMs as number);
		await aBatch(world, "B2");
		await world.sweep.openDue();
	});
	afterAll(() => api.close());

	const issued = async (code: string) => (await api.ask("POST", `/people/${code}/calendar`)).body.path as string;
	/** Read by a parser that has nothing to do with what wrote it. */
	const events = (text: string) => {
		const calendar = new ICAL.Component(ICAL.parse(text));
		expect(calendar.getFirstPropertyValue("version")).toBe("2.0");
		return calendar.getAllSubcomponents("vevent").map((component) => new ICAL.Event(component));
	};

	it("has her open task with its code, and the jar that will be due, in UTC and within her hours", async () => {
		const { status, text, headers } = await api.ask("GET", await issued("vol"));
		expect([status, headers["content-type"], headers["cache-control"]]).toEqual([
			200,
			"text/calendar; charset=utf-8",
			"no-store",
		]);
		const [task] = await world.tasks();
		const [open, coming] = events(text);
		expect(open?.summary).toMatch(new RegExp(`^${task?.code} test jar B1 1 mL in \\d`));
		expect(coming?.summary).toBe("Test jar B2");
		const dueAtMs = (await world.batches.detail("B2")).forecast.retestAtMs as number;
		for (const event of [open, coming] as ICAL.Event[]) {
			expect(event.startDate.zone.tzid).toBe("UTC");
			// She is quiet from 20:00 to 06:00 in Nairobi, 17:00 to 03:00 UTC.
			const hour = event.startDate.toJSDate().getUTCHours();
			expect(hour >= 3 && hour < 17).toBe(true);
		}
		const lateMs = (coming?.startDate.toJSDate().getTime() as number) - dueAtMs;
		expect(lateMs).toBeGreaterThanOrEqual(-999);
		expect(lateMs).toBeLessThan(10 * 3_600_000);
	});

	// Source: RFC 5545 (2009), sections 3.1 (lines of at most 75 octets, CRLF), 3.3.11 (escapes), 3.6 and 3.6.1 (what must be there), 3.8.4.7 (UID).
	it("is folded at 75 octets whatever its letters, ends every line with CRLF, and has each identifier once, the same at each look", async () => {
		await world.store.work.run(async (tx) => {
			await tx.query("UPDATE person SET language = 'ar' WHERE id = 'vol'");
			await tx.query("UPDATE batch SET code = 'B2; a, b\\c 😀 with a long name that must be folded somewhere' WHERE code = 'B2'");
		});
		const path = await issued("vol");
		const { text } = await api.ask("GET", path);
		expect(text.replace(/\r\n/g, "")).not.toMatch(/[\r\n]/);
		expect(text.endsWith("END:VCALENDAR\r\n") || text.endsWith("END:VCALENDAR")).toBe(true);
		for (const line of text.split("\r\n")) expect(Buffer.byteLength(line)).toBeLessThanOrEqual(75);
		expect(text).toMatch(/\r\n /);
		const found = events(text);
		expect(found.map(({ summary }) => summary)).toContain(
			"افحص العبوة B2; a, b\\c 😀 with a long name that must be folded somewhere",
		);
		const ids = found.map(({ uid }) => uid);
		expect(new Set(ids).size).toBe(ids.length);
		world.clock.advance(1000);
		expect(events((await api.ask("GET", path)).text).map(({ uid }) => uid)).toEqual(ids);
		for (const property of ["PRODID:", "VERSION:2.0", "DTSTAMP:"]) expect(text).toContain(property);
		await world.store.work.run((tx) => tx.query("UPDATE person SET language = 'en' WHERE id = 'vol'"));
	});

	it("of a supervisor has what is late with her volunteers, with codes and no name", async () => {
		await world.live(2, DAY_MS / 4);
		const { text } = await api.ask("GET", await issued("sup"));
		expect(events(text).map(({ summary }) => summary)).toEqual([expect.stringMatching(/^\w{5} test jar B1 .*: vol, \d+ h$/)]);
		expect(text).not.toMatch(/Invented/);
	});

	it("is read by its latest address alone, of which only a hash is kept; by none once it is revoked or she has left", async () => {
		const [first, second] = [await issued("vol"), await issued("vol")];
		expect([(await api.ask("GET", first)).status, (await api.ask("GET", second)).status]).toEqual([404, 200]);
		const secret = second.slice("/calendars/".length, -".ics".length);
		expect(secret).toMatch(/^[A-Za-z0-9_-]{43}$/);
		expect(JSON.stringify(await world.store.query("SELECT * FROM calendar_feed"))).not.toContain(secret);
		expect(JSON.stringify(api.lines)).not.toContain(secret);
		expect(JSON.stringify(await world.store.query("SELECT detail FROM ledger_entry"))).not.toContain(secret);
		await world.store.work.run((tx) => tx.query("UPDATE person SET active = $1 WHERE id = 'vol'", [false]));
		expect((await api.ask("GET", second)).status).toBe(404);
		await world.store.work.run((tx) => tx.query("UPDATE person SET active = $1 WHERE id = 'vol'", [true]));
		expect((await api.ask("POST", "/people/vol/calendar/revoke")).body).toEqual({ revoked: true });
		expect((await api.ask("POST", "/people/vol/calendar/revoke")).body).toEqual({ revoked: false });
		expect((await api.ask("GET", second)).status).toBe(404);
		expect((await api.ask("GET", "/calendars/nothing.ics")).status).toBe(404);
	});
});
