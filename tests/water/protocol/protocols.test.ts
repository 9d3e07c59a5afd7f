import { InputError } from "../../../src/errors/errors.js";
import type { Store } from "../../../src/store/store.js";
import { VirtualClock } from "../../../src/time/clock.js";
import { Ids } from "../../../src/time/ids.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { Protocols } from "../../../src/water/protocol/accept.js";
import { HouseholdProtocols } from "../../../src/water/protocol/household-protocol.js";
import { fieldCardAsTaught } from "../../../src/water/protocols/field-card.js";
import { twoDose } from "../../../src/water/protocols/two-dose.js";
import { newStore, onEachDatabase } from "../../support/stores.js";

const START_MS = Date.UTC(2026, 2, 2, 7);

type OpenStore = Awaited<ReturnType<typeof newStore>>;

async function withHouseholds(store: Store): Promise<void> {
	await store.work.run(async (tx) => {
		await tx.query(
			`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
			 VALUES ('a', 'A', 'Invented', 'Africa/Nairobi', 0, 37, 1500, '[]')`,
		);
		for (const id of ["h1", "h2", "h3"])
			await tx.query(
				`INSERT INTO household (id, code, area_id, persons, water_source, turbidity) VALUES ($1, $2, 'a', 5, 'well', 'clear')`,
				[id, id.toUpperCase()],
			);
	});
}

/** @returns the error that a promise ends with */
const refusalOf = (promise: Promise<unknown>): Promise<InputError> =>
	promise.then(
		() => Promise.reject(new Error("nothing was refused")),
		(error: unknown) => error as InputError,
	);

onEachDatabase("protocols", (kind) => {
	let store: OpenStore;
	let clock: VirtualClock;
	let protocols: Protocols;
	let households: HouseholdProtocols;

	beforeEach(async () => {
		store = await newStore(kind);
		clock = new VirtualClock(START_MS);
		const ids = new Ids(clock, new SeededRandomness(7));
		protocols = new Protocols(store, clock, ids);
		households = new HouseholdProtocols(store, clock, ids);
		await withHouseholds(store);
	});

	afterEach(() => store.remove());

	const ledger = (action: string) =>
		store.query<{ actor: string; subjectId: string; detail: string }>(
			"SELECT actor, subject_id, detail FROM ledger_entry WHERE action = $1 ORDER BY id",
			[action],
		);

	it("take in the two that ship, once however often they are asked to, and the published one is the default", async () => {
		await protocols.acceptShipped("programme");
		await protocols.acceptShipped("programme");
		expect((await protocols.list()).map(({ code, version }) => `${code} ${version}`)).toEqual(["field-card 1", "two-dose 1"]);
		expect(await households.of("h1")).toMatchObject({ code: "two-dose", version: 1, findings: [] });
		expect(await ledger("protocol accepted")).toHaveLength(2);
		expect((await protocols.get("field-card", 1)).findings.map(({ code }) => code)).toContain("dose-over-guideline");
	});

	it("are taken in once, with one default, where four processes start on one database", async () => {
		const others = [await store.again(), await store.again(), await store.again()];
		const starts = [store, ...others].map((one, i) => () => {
			const ids = new Ids(clock, new SeededRandomness(100 + i));
			return new Protocols(one, clock, ids).acceptShipped("programme");
		});
		try {
			// Connections of one process to one SQLite file would wait for each other for ever: there they start in turn.
			if (kind === "postgres") await Promise.all(starts.map((start) => start()));
			else for (const start of starts) await start();
		} finally {
			await Promise.all(others.map((other) => other.close()));
		}
		expect(await protocols.list()).toHaveLength(2);
		expect(await store.query("SELECT id FROM protocol_default")).toHaveLength(1);
		expect(await ledger("default protocol set")).toHaveLength(1);
	});

	it("refuse the field card as taught with gaps 1-2 and 4-5 named, and keep nothing of it", async () => {
		const error = await refusalOf(protocols.accept(fieldCardAsTaught, { actor: "supervisor" }));
		expect(error).toBeInstanceOf(InputError);
		expect(error.code).toBe("invalid-input");
		expect(error.message).toMatch(/gap 1-2.*gap 4-5/);
		expect(error.problems.map(({ at }) => at).slice(0, 2)).toEqual(["/checks/0/bands", "/checks/0/bands"]);
		expect(await protocols.list()).toEqual([]);
		expect(await ledger("protocol accepted")).toEqual([]);
	});

	it("take the field card as taught where closing is asked for, and keep what was closed with it", async () => {
		const kept = await protocols.accept(fieldCardAsTaught, { actor: "supervisor", closeOnDrinkersSide: true });
		expect(kept.body.closings.join(" ")).toMatch(/gap 1-2.*gap 4-5/);
		expect(kept.findings.filter(({ code }) => code === "closed-on-drinkers-side")).toHaveLength(4);
		expect(kept.acceptedAtMs).toBe(START_MS);
	});

	it("refuse another text under a code and version that are taken, and take it as the next version", async () => {
		await protocols.accept(twoDose, { actor: "health office" });
		const changed = { ...twoDose, title: "Two doses, with other words" };
		expect(await refusalOf(protocols.accept(changed, { actor: "health office" }))).toMatchObject({
			code: "conflict",
			status: 409,
		});
		expect((await protocols.get("two-dose", 1)).title).toBe(twoDose.title);
		expect((await protocols.accept({ ...changed, version: 2 }, { actor: "health office" })).version).toBe(2);
	});

	it("keep one of five takers' texts where all come at once under one version", async () => {
		const outcomes = await Promise.allSettled(
			[1, 2, 3, 4, 5].map((n) => protocols.accept({ ...twoDose, title: `Words of taker ${n}` }, { actor: `taker ${n}` })),
		);
		expect(outcomes.filter(({ status }) => status === "fulfilled")).toHaveLength(1);
		expect(await protocols.list()).toHaveLength(1);
	});

	it("name the versions that are there where one is asked for that isn't", async () => {
		await protocols.acceptShipped("programme");
		const error = await refusalOf(protocols.get("two-dose", 9));
		expect(error).toMatchObject({ code: "unknown-subject", status: 404 });
		expect(error.message).toContain("Known are: field-card 1, two-dose 1");
	});

	it("leave a household with its version when a newer one is accepted and made the default", async () => {
		await protocols.acceptShipped("programme");
		await households.of("h1");
		await protocols.accept({ ...twoDose, version: 2 }, { actor: "health office" });
		clock.advance(1000);
		await protocols.makeDefault("two-dose", 2, "health office");
		expect((await households.of("h1")).version).toBe(1);
		// h2 had never been asked for: it stood under the default of that time, and keeps it too.
		expect((await households.of("h2")).version).toBe(1);
		await store.work.run((tx) =>
			tx.query(
				"INSERT INTO household (id, code, area_id, persons, water_source, turbidity) VALUES ('h4', 'H4', 'a', 5, 'well', 'clear')",
			),
		);
		expect((await households.of("h4")).version).toBe(2);
	});

	it("move a household only when asked, with who, from where, to where and why in the ledger", async () => {
		await protocols.acceptShipped("programme");
		await households.of("h1");
		const move = { code: "field-card", version: 1, actor: "supervisor-7", why: "no kit for low readings" };
		expect(await households.move(["h1", "h2", "h1"], move)).toBe(2);
		expect(await households.move(["h1"], move)).toBe(0);
		expect(await households.of("h1")).toMatchObject({ code: "field-card" });
		expect(await households.of("h3")).toMatchObject({ code: "two-dose" });
		const [entry, ...more] = await ledger("household moved to protocol");
		expect(more).toEqual([]);
		expect(entry).toMatchObject({ actor: "supervisor-7", subjectId: "h1" });
		expect(JSON.parse(entry!.detail)).toEqual({ from: "two-dose 1", to: "field-card 1", why: "no kit for low readings" });
	});

	it("give a household one version where three ask for it at once for the first time, and say so once", async () => {
		await protocols.acceptShipped("programme");
		const asked = await Promise.all(["h1", "h1", "h1"].map((id) => households.of(id)));
		expect(asked.map(({ code }) => code)).toEqual(["two-dose", "two-dose", "two-dose"]);
		expect(await ledger("household given protocol")).toHaveLength(1);
	});

	it("move none where one of the households isn't there", async () => {
		await protocols.acceptShipped("programme");
		const move = { code: "field-card", version: 1, actor: "supervisor-7", why: "asked for" };
		expect(await refusalOf(households.move(["h1", "nobody"], move))).toMatchObject({ code: "unknown-subject", status: 404 });
		expect(await households.of("h1")).toMatchObject({ code: "two-dose" });
	});

	it("say that no default has been set before any was accepted", async () => {
		expect((await refusalOf(households.of("h1"))).message).toContain("No default protocol");
	});
});
