import { Coverage } from "../../src/audit/coverage/coverage.js";
import { indicators } from "../../src/audit/coverage/list.js";
import { wilsonInterval } from "../../src/science/wilson.js";
import { DAY_MS } from "../../src/time/clock.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, type World } from "../support/world.js";
import { byHand } from "./coverage-by-hand.js";
import { type Facts, inventedFacts, putFacts } from "./coverage-facts.js";

const BELOW: Record<string, string[]> = {
	NAT: ["NAT", "EAST", "WEST", "EAST-1", "EAST-2"],
	EAST: ["EAST", "EAST-1", "EAST-2"],
	WEST: ["WEST"],
	"EAST-1": ["EAST-1"],
	"EAST-2": ["EAST-2"],
};

/** Nairobi is three hours ahead of UTC all year. */
const localMidnight = (date: string) => Date.parse(`${date}T00:00:00+03:00`);

onEachDatabase("coverage", (kind) => {
	let world: World;
	let coverage: Coverage;
	let facts: Facts;
	const NOW = START_MS + 7 * DAY_MS;
	beforeAll(async () => {
		world = await newWorld(kind);
		world.clock.moveTo(NOW);
		coverage = world.the(Coverage);
		facts = inventedFacts(kind === "sqlite" ? 11 : 12, NOW);
		await putFacts(world.store, facts);
	});
	afterAll(() => world.remove());

	const periods = [
		{ from: "2026-01-01", to: "2026-01-31", untilMs: localMidnight("2026-02-01"), isPartial: false },
		{ from: "2025-12-15", to: "2026-02-20", untilMs: localMidnight("2026-02-21"), isPartial: false },
		{ from: "2026-02-01", to: "2026-02-07", untilMs: localMidnight("2026-02-08"), isPartial: false },
		{ from: "2026-02-10", to: "2026-03-31", untilMs: NOW, isPartial: true },
	];

	it.each(periods)(
		"from $from to $to is what a plain loop over the same facts counts, in every area",
		async ({ from, to, untilMs, isPartial }) => {
			const hand = byHand(facts, localMidnight(from), untilMs);
			const report = await coverage.report({ areaCode: "NAT", from, to });
			expect(report.period).toMatchObject({ from, to, untilMs, isPartial, timeZone: "Africa/Nairobi" });
			expect(report.areas.map(({ code, depth, parentCode }) => [code, depth, parentCode])).toEqual([
				["NAT", 0, null],
				["EAST", 1, "NAT"],
				["EAST-1", 2, "EAST"],
				["EAST-2", 2, "EAST"],
				["WEST", 1, "NAT"],
			]);
			expect(report.definitions.map(({ code }) => code)).toEqual(indicators.map(({ code }) => code));
			for (const { code, figures } of report.areas)
				for (const figure of figures) {
					const counted = [...(hand[figure.indicator]?.values() ?? [])].filter(({ areaId }) =>
						BELOW[code]?.some((below) => areaId === `a-${below}`),
					);
					const count = (met: true | false | null) => counted.filter((one) => one.met === met).length;
					expect({ code, ...figure }).toMatchObject({
						...{ numerator: count(true), denominator: count(true) + count(false), missing: count(null) },
					});
				}
			// Each of them says something somewhere, or the comparison would be of nothing.
			for (const figure of report.figures) expect(figure.denominator + figure.missing).toBeGreaterThan(2);
		},
	);

	it("of a part asked for by itself is what the whole says of that part", async () => {
		const asked = { from: "2026-01-01", to: "2026-01-31" };
		const whole = await coverage.report({ areaCode: "NAT", ...asked });
		const part = await coverage.report({ areaCode: "EAST", ...asked });
		expect(part.figures).toEqual(whole.areas.find(({ code }) => code === "EAST")?.figures);
		expect(part.areas.map(({ code, parentCode }) => [code, parentCode])).toEqual([
			["EAST", null],
			["EAST-1", "EAST"],
			["EAST-2", "EAST"],
		]);
	});

	it("gives each share its Wilson interval of 95 %, and none where there is nothing to count", async () => {
		const { figures, areas } = await coverage.report({ areaCode: "NAT", from: "2026-01-01", to: "2026-01-31" });
		for (const { numerator, denominator, share, low, high } of [...figures, ...areas.flatMap((area) => area.figures)])
			expect({ low, share, high }).toEqual(
				denominator === 0
					? { low: null, share: null, high: null }
					: wilsonInterval({ successes: numerator, trials: denominator }),
			);
		const nothing = await coverage.report({
			areaCode: "WEST",
			from: "1999-01-01",
			to: "1999-01-31",
			indicators: ["tasks-in-time"],
		});
		expect(nothing.figures).toEqual([
			{ indicator: "tasks-in-time", numerator: 0, denominator: 0, missing: 0, share: null, low: null, high: null },
		]);
	});

	it("can be opened up to the records behind each figure: as many as were counted, and the very ones", async () => {
		const period = periods[3] as (typeof periods)[number];
		const hand = byHand(facts, localMidnight(period.from), period.untilMs);
		const { figures } = await coverage.report({ areaCode: "EAST", ...period });
		for (const { indicator, numerator, denominator, missing } of figures)
			for (const [set, count, is] of [
				["numerator", numerator, (met: unknown) => met === true],
				["denominator", denominator, (met: unknown) => met !== null],
				["missing", missing, (met: unknown) => met === null],
				["rest", denominator - numerator, (met: unknown) => met === false],
			] as const) {
				const { statement, condition, parameters } = await coverage.records({ areaCode: "EAST", ...period, indicator }, set);
				const rows = await world.store.query<{ id: string }>(`${statement} WHERE ${condition}`, parameters);
				const expected = [...(hand[indicator] ?? [])].filter(
					([, { areaId, met }]) => is(met) && BELOW["EAST"]?.some((code) => areaId === `a-${code}`),
				);
				expect(rows.map(({ id }) => id).sort()).toEqual(expected.map(([id]) => id).sort());
				expect(rows).toHaveLength(count);
			}
	});

	it("by month is the report of each month, the last one up to now", async () => {
		const months = await coverage.byMonth({ areaCode: "NAT", from: "2025-12-15", to: "2026-06-30" });
		expect(months.map(({ period: { from, to, isPartial } }) => [from, to, isPartial])).toEqual([
			["2025-12-15", "2025-12-31", false],
			["2026-01-01", "2026-01-31", false],
			["2026-02-01", "2026-02-28", false],
			["2026-03-01", "2026-03-31", true],
		]);
		for (const { period, figures } of months)
			expect(figures).toEqual((await coverage.report({ areaCode: "NAT", from: period.from, to: period.to })).figures);
	});

	it("is the same to the last byte when it is asked for again", async () => {
		const asked = { areaCode: "NAT", from: "2026-01-01", to: "2026-01-31" };
		expect(JSON.stringify(await coverage.report(asked))).toBe(JSON.stringify(await coverage.report(asked)));
	});

	it("of many thousand households lets everything else in the process have its turn while they are counted", async () => {
		await world.store.work.run((tx) =>
			tx.affected(
				`INSERT INTO household (id, code, area_id, persons, water_source, turbidity)
				 WITH RECURSIVE numbers (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM numbers WHERE n < 16999)
				 SELECT 'x' || CAST(10000 + n AS text), 'X' || CAST(10000 + n AS text), 'a-WEST', 5, 'well', 'clear' FROM numbers`,
			),
		);
		let turns = 0;
		const turning = setInterval(() => turns++, 1);
		const asked = { areaCode: "NAT", from: "2026-01-01", to: "2026-01-31", indicators: ["effective-coverage"] };
		const { figures } = await coverage.report(asked);
		clearInterval(turning);
		expect(figures[0]?.denominator).toBe(120 + 17_000);
		expect(turns).toBeGreaterThanOrEqual(3);
		const parts = await Promise.all(["EAST", "WEST"].map((areaCode) => coverage.report({ ...asked, areaCode })));
		const inNat = facts.households.filter(({ areaId }) => areaId === "a-NAT").length;
		expect(parts.map((part) => part.figures[0]?.denominator ?? 0).reduce((sum, one) => sum + one, inNat)).toBe(17_120);
	});

	it("names what can't be asked, with what would be right", async () => {
		const asked = { areaCode: "NAT", from: "2026-01-01", to: "2026-01-31" };
		const refused = async (over: Partial<Parameters<Coverage["report"]>[0]>) =>
			coverage.report({ ...asked, ...over }).then(
				() => "taken",
				(error: { code: string; message: string; problems: { at: string; message: string }[] }) => [
					error.code,
					error.message,
					error.problems,
				],
			);
		expect(await refused({ areaCode: "NOWHERE" })).toEqual([
			"unknown-area",
			"There is no area with the code NOWHERE.",
			[{ at: "area", message: "names no area" }],
		]);
		expect(await refused({ from: "2026-03-11", to: "2026-03-31" })).toEqual([
			"time-in-future",
			"The period begins on 2026-03-11, which is in the future: there it is 2026-03-10 today.",
			[{ at: "from", message: "must not be after 2026-03-10" }],
		]);
		expect(await refused({ from: "2026-02-01" })).toEqual([
			"invalid-input",
			"A period from 2026-02-01 to 2026-01-31 ends before it begins.",
			[
				{ at: "from", message: "must not be after 2026-01-31, the last day" },
				{ at: "to", message: "must not be before 2026-02-01, the first day" },
			],
		]);
		const [code, message, [problem]] = (await refused({ indicators: ["tasks-in-time", "happiness"] })) as [
			string,
			string,
			[{ message: string }],
		];
		expect([code, message]).toEqual(["unknown-indicator", "There is no indicator happiness."]);
		expect(problem.message).toContain("households-assigned, households-visited-in-time");
	});
});

describe("the definitions of coverage", () => {
	it("each have a code and a name of their own, words, what is missing and a source", () => {
		expect(new Set(indicators.map(({ code }) => code)).size).toBe(indicators.length);
		expect(new Set(indicators.map(({ name }) => name)).size).toBe(indicators.length);
		for (const { code, missing, source } of indicators) {
			expect(code).toMatch(/^[a-z]+(-[a-z]+)*$/);
			expect(missing.length).toBeGreaterThan(10);
			expect(source.kind === "own" ? source.because : source.source).toBeTruthy();
		}
	});
});
