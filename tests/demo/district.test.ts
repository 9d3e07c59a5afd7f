import { type District, district } from "../../src/demo/district.js";

const NOON = Date.UTC(2025, 10, 24, 9);
const one = district({ start: 1, startAtMs: NOON });
const several = [one, ...[2, 3].map((start) => district({ start, startAtMs: NOON }))];

describe("the invented district", () => {
	it("is the same to the byte for the same start number and instant", () => {
		expect(JSON.stringify(district({ start: 1, startAtMs: NOON }))).toBe(JSON.stringify(one));
	});

	it("is another for another start number: other households, jars and ids", () => {
		const [, two] = several as [District, District];
		expect(two.households.map(({ persons }) => persons)).not.toEqual(one.households.map(({ persons }) => persons));
		expect(Object.values(two.hidden.jars)).not.toEqual(Object.values(one.hidden.jars));
		const ids = new Set(one.people.map(({ id }) => id));
		expect(two.people.filter(({ id }) => ids.has(id))).toEqual([]);
	});

	it("has 5 areas, 14 volunteers, 2 supervisors, 320 households and 4 generators, whatever the start number", () => {
		for (const d of several) {
			expect(d.areas).toHaveLength(5);
			expect(d.people.filter(({ role }) => role === "volunteer")).toHaveLength(14);
			expect(d.people.filter(({ role }) => role === "supervisor")).toHaveLength(2);
			expect(d.people.filter(({ role }) => role === "health office")).toHaveLength(1);
			expect(d.households).toHaveLength(320);
			expect(d.generators).toHaveLength(4);
		}
	});

	it("has 7 000 to 20 000 rows of records and 15 to 30 jars in use", () => {
		for (const d of several) {
			const rows = d.doses.length + d.residualChecks.length + d.strengthTests.length + d.batches.length;
			expect(rows).toBeGreaterThan(7000);
			expect(rows).toBeLessThan(20_000);
			const inUse = d.batches.filter(({ state }) => state === "in use").length;
			expect(inUse).toBeGreaterThanOrEqual(15);
			expect(inUse).toBeLessThanOrEqual(30);
		}
	});

	it("names only rows that are there, each by an id of its own", () => {
		const of = (rows: readonly { id: string }[]) => new Set(rows.map(({ id }) => id));
		const { areas, people, households, containers, generators, batches, strengthTests, doses, residualChecks } = one;
		const tables = [areas, people, households, containers, generators, batches, strengthTests, doses, residualChecks];
		expect(new Set(tables.flatMap((rows) => [...of(rows)])).size).toBe(tables.reduce((sum, rows) => sum + rows.length, 0));
		const targets: Record<string, Set<string>> = {
			areaId: of(areas),
			parentId: of(areas),
			supervisorId: of(people.filter(({ role }) => role !== "volunteer")),
			volunteerId: of(people.filter(({ role }) => role === "volunteer")),
			keeperId: of(people),
			testerId: of(people),
			checkerId: of(people),
			householdId: of(households),
			containerId: of(containers),
			generatorId: of(generators),
			batchId: of(batches),
		};
		const lost: string[] = [];
		let looked = 0;
		for (const row of tables.flat())
			for (const [name, value] of Object.entries(row)) {
				const target = targets[name];
				if (!target || value === null) continue;
				looked++;
				if (!target.has(value as string)) lost.push(`${name} ${value}`);
			}
		expect(lost).toEqual([]);
		expect(looked).toBeGreaterThan(15_000);
	});

	it("has codes of their own for areas, people, households, containers, generators and jars", () => {
		for (const rows of [one.areas, one.people, one.households, one.containers, one.generators, one.batches])
			expect(new Set(rows.map(({ code }) => code)).size).toBe(rows.length);
	});

	it("has every household looked after by a volunteer of its own village", () => {
		const areaOf = new Map(one.people.map(({ id, areaId }) => [id, areaId]));
		expect(one.households.filter(({ volunteerId, areaId }) => areaOf.get(volunteerId as string) !== areaId)).toEqual([]);
	});

	it("says that it is invented in the programme's name and in every name of a place, a person and a generator", () => {
		expect(one.programme.name).toContain("Invented district");
		for (const { name } of [...one.areas, ...one.people, ...one.generators]) expect(name).toMatch(/invented/i);
	});

	it("gives everybody a phone number of their own among those kept for drama, 07700 900000 to 900999", () => {
		// Source: Ofcom, "Telephone numbers for use in TV and radio drama programmes", mobile range [S].
		const phones = one.people.map(({ phoneE164 }) => phoneE164);
		for (const phone of phones) expect(phone).toMatch(/^\+447700900\d{3}$/);
		expect(new Set(phones).size).toBe(phones.length);
	});

	it("speaks English, French and Swahili, and has one volunteer who never answers and one whose phone can't be reached", () => {
		expect([...new Set(one.people.map(({ language }) => language))].sort()).toEqual(["en", "fr", "sw"]);
		const habits = Object.values(one.hidden.habits);
		expect(habits.filter(({ answers }) => answers === "never")).toHaveLength(1);
		expect(habits.filter(({ reachable }) => !reachable)).toHaveLength(1);
	});

	it("keeps the truth out of the rows", () => {
		const { hidden, ...visible } = one;
		const text = JSON.stringify(visible);
		expect(Object.keys(hidden.jars)).toHaveLength(one.batches.length);
		for (const word of ["lossMultiplier", "demandMgPerL", "reachable", "initialStrength"]) expect(text).not.toContain(word);
	});
});

function instantsOf({ batches, strengthTests, doses, residualChecks }: District): number[] {
	return [
		...batches.map(({ madeAtMs }) => madeAtMs),
		...strengthTests.map(({ recordedAtMs }) => recordedAtMs),
		...doses.map(({ dosedAtMs }) => dosedAtMs),
		...residualChecks.map(({ checkedAtMs }) => checkedAtMs),
	];
}

describe("the five weeks of records", () => {
	it("lie before the start, and back to between 33 and 36 days", () => {
		const days = (atMs: number) => (NOON - atMs) / 86_400_000;
		for (const d of several) {
			const youngest = Math.min(...instantsOf(d).map(days));
			expect(youngest).toBeGreaterThanOrEqual(0);
			const oldest = days(Math.min(...d.doses.map(({ dosedAtMs }) => dosedAtMs)));
			expect(oldest).toBeGreaterThan(33);
			expect(oldest).toBeLessThan(36);
		}
	});

	it("lie before the start at any hour of the day", () => {
		for (let hour = 0; hour < 24; hour += 7) {
			const startAtMs = Date.UTC(2026, 1, 28, hour, 17);
			expect(Math.max(...instantsOf(district({ start: 9, startAtMs })))).toBeLessThanOrEqual(startAtMs);
		}
	});

	it("test and use a jar only after it was made, and enter a test only after it was done", () => {
		const madeAtMs = new Map(one.batches.map((jar) => [jar.id, jar.madeAtMs]));
		const made = (batchId: string) => madeAtMs.get(batchId) as number;
		expect(one.strengthTests.filter(({ batchId, testedAtMs }) => !(testedAtMs > made(batchId)))).toEqual([]);
		expect(one.strengthTests.filter(({ testedAtMs, recordedAtMs }) => !(recordedAtMs > testedAtMs))).toEqual([]);
		expect(one.doses.filter(({ batchId, dosedAtMs }) => !(dosedAtMs > made(batchId)))).toEqual([]);
	});

	it("test every jar that was made within the last five weeks at least once, but those of the one who never answers only once", () => {
		const silent = Object.entries(one.hidden.habits).find(([, { answers }]) => answers === "never")?.[0];
		const counts = (keep: (keeperId: string | null) => boolean) =>
			one.batches
				.filter(({ keeperId }) => keep(keeperId))
				.map((jar) => one.strengthTests.filter(({ batchId }) => batchId === jar.id).length);
		expect(Math.min(...counts(() => true))).toBeGreaterThanOrEqual(1);
		expect(Math.max(...counts((keeperId) => keeperId === silent))).toBe(1);
		expect(Math.max(...counts((keeperId) => keeperId !== silent))).toBeGreaterThanOrEqual(3);
	});

	it("keep most jars in opaque cans, some in translucent ones and few in the sun", () => {
		for (const { batches } of several) {
			const share = (is: (jar: (typeof batches)[number]) => boolean) => batches.filter(is).length / batches.length;
			expect(share(({ wall }) => wall === "opaque" || wall === "opaqueWhite")).toBeGreaterThan(0.6);
			expect(share(({ wall }) => wall === "translucent")).toBeGreaterThan(0.1);
			const inTheSun = share(({ exposure }) => exposure === "directSun");
			expect(inTheSun).toBeGreaterThan(0.03);
			expect(inTheSun).toBeLessThan(0.3);
		}
	});
});
