import { readFileSync } from "node:fs";
import { policyFrom } from "../../src/programme/policy.js";
import {
	bleachMlPerWeek,
	chlorineGramsPerDay,
	dailyNeed,
	fillsPerWeek,
	plannedDoseMgPerL,
	storageDays,
	treatedLitresPerDay,
	turbidityIn,
} from "../../src/water/need.js";
import { onEachDatabase } from "../support/stores.js";
import { newWorld, START_MS, settle, type World } from "../support/world.js";

const published = JSON.parse(readFileSync("tests/published/water-need.json", "utf8")) as {
	tolerance: number;
	weeks: {
		name: string;
		persons: number;
		litres: number;
		litresPerWeek: number;
		clear: number;
		turbid: number;
		clearAt4GPerL: number;
		tolerance?: number;
	}[];
	rollUp: { households: number; litresBleachPerWeek: number };
};
const policy = policyFrom({});

describe("a household's need of bleach", () => {
	// Source: see the file.
	it.each(published.weeks)("$name: $persons persons at $litres L a day need $clear mL of 5 g/L a week", (row) => {
		const rules = { ...policy.water, treatedUses: ["drinking" as const] };
		const litresPerDay = treatedLitresPerDay({ persons: row.persons, habits: { drinkingLPerPersonDay: row.litres } }, rules);
		expect(litresPerDay * 7).toBeCloseTo(row.litresPerWeek, 9);
		const week = (dose: number, strengthGPerL: number) => bleachMlPerWeek({ litresPerDay, doseMgPerL: dose, strengthGPerL });
		const within = (given: number, wanted: number) =>
			expect(Math.abs(given - wanted)).toBeLessThanOrEqual((row.tolerance ?? published.tolerance) + 1e-9);
		within(week(policy.doseMgPerL.clear, 5), row.clear);
		within(week(policy.doseMgPerL.cloudy, 5), row.turbid);
		within(week(policy.doseMgPerL.clear, 4), row.clearAt4GPerL);
	});

	it("takes the programme's 5.3 L for drinking and food where nothing was asked, and leaves hygiene untreated", () => {
		expect(treatedLitresPerDay({ persons: 6 }, policy.water)).toBeCloseTo(31.8, 9);
		expect(treatedLitresPerDay({ persons: 6, habits: { drinkingLPerPersonDay: 2 } }, policy.water)).toBeCloseTo(25.8, 9);
		expect(treatedLitresPerDay({ persons: 6, habits: { hygieneLPerPersonDay: 50 } }, policy.water)).toBeCloseTo(31.8, 9);
	});

	// Source: 20 L at 140 L a week are 7 fills, computed independently.
	it("says that 40 L last 2 days at 20 L a day, and that a 20 L container is then filled 7 times a week", () => {
		expect(storageDays(40, 20)).toBe(2);
		expect(storageDays(40, 0)).toBe(Number.POSITIVE_INFINITY);
		expect(fillsPerWeek(20, 20)).toBe(7);
		expect(bleachMlPerWeek({ litresPerDay: 0, doseMgPerL: 2, strengthGPerL: 5 })).toBe(0);
	});

	it("takes the season's water from November to March, over the turn of the year, and the usual one in April", () => {
		const household = {
			turbidity: "clear",
			habits: { seasonFromMonth: 11, seasonUntilMonth: 3, seasonTurbidity: "cloudy" },
		} as const;
		expect([10, 11, 12, 1, 3, 4].map((month) => turbidityIn(household, month))).toEqual([
			"clear",
			"cloudy",
			"cloudy",
			"cloudy",
			"cloudy",
			"clear",
		]);
	});
});

onEachDatabase("what volunteers' households need", (kind) => {
	let world: World;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
	});
	afterAll(() => world.remove());

	it("adds up 100 households of 5 persons at 4 L to 5.25 L of 5 g/L bleach a week, in two statements however many they are", async () => {
		await world.store.work.run(async (tx) => {
			for (let n = 0; n < published.rollUp.households; n++) {
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', 'vol', 5, 'tap', 'clear')",
					[`h${n}`],
				);
				await tx.query(
					"INSERT INTO household_water (household_id, drinking_l_per_person_day, food_l_per_person_day, changed_at_ms) VALUES ($1, 3, 1, 0)",
					[`h${n}`],
				);
			}
		});
		let statements = 0;
		const counting = {
			query: <T extends object>(statement: string, parameters?: readonly unknown[]) => {
				statements++;
				return world.store.query<T>(statement, parameters);
			},
		};
		const need = (await dailyNeed(counting, ["vol", "sup"], world.clock.nowMs(), policy)).get("vol");
		expect(statements).toBe(2);
		expect(need?.litresPerDay).toBeCloseTo(2000, 6);
		expect(((need?.chlorineGramsPerDay ?? 0) * 7) / 5).toBeCloseTo(published.rollUp.litresBleachPerWeek, 9);
		// 30 % of each household's 37.5 mg a day, 100 independent ones: 10 times one household's.
		expect(need?.sd).toBeCloseTo(0.3 * 0.0375 * 10, 9);
	});

	it("agrees with the rules for each household, whatever was asked of it, in and out of its season", async () => {
		const facts = [
			{ persons: 3, turbidity: "clear", habits: { drinkingLPerPersonDay: 2.5 } },
			{ persons: 8, turbidity: "very turbid", habits: {} },
			{ persons: 1, turbidity: "clear", habits: { seasonFromMonth: 3, seasonUntilMonth: 5, seasonTurbidity: "cloudy" } },
			{ persons: 2, turbidity: "cloudy", habits: { seasonFromMonth: 12, seasonUntilMonth: 2, seasonTurbidity: "clear" } },
		] as const;
		await world.store.work.run(async (tx) => {
			const person = `INSERT INTO person (id, code, role, name, language, area_id, working_days, quiet_from, quiet_until, channels, active)
				VALUES ($1, $1, 'volunteer', '', 'en', 'area', '[1]', '20:00', '06:00', '[]', $2)`;
			for (const [n, { persons, turbidity, habits }] of facts.entries()) {
				await tx.query(person, [`v${n}`, true]);
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', $2, $3, 'well', $4)",
					[`own${n}`, `v${n}`, persons, turbidity],
				);
				const { drinkingLPerPersonDay, seasonFromMonth, seasonUntilMonth, seasonTurbidity } = habits as Record<string, unknown>;
				await tx.query(
					"INSERT INTO household_water (household_id, drinking_l_per_person_day, season_from_month, season_until_month, season_turbidity, changed_at_ms) VALUES ($1, $2, $3, $4, $5, 0)",
					[`own${n}`, drinkingLPerPersonDay ?? null, seasonFromMonth ?? null, seasonUntilMonth ?? null, seasonTurbidity ?? null],
				);
			}
		});
		for (const month of [1, 3, 7, 12]) {
			const needs = await dailyNeed(world.store, ["v0", "v1", "v2", "v3"], Date.UTC(2026, month - 1, 15), policy);
			for (const [n, household] of facts.entries()) {
				const litres = treatedLitresPerDay(household, policy.water);
				const grams = chlorineGramsPerDay(litres, plannedDoseMgPerL(turbidityIn(household, month), policy));
				expect(needs.get(`v${n}`)?.litresPerDay).toBeCloseTo(litres, 9);
				expect(needs.get(`v${n}`)?.chlorineGramsPerDay).toBeCloseTo(grams, 9);
			}
		}
	});

	// 1.5 mL/L of 5 g/L are 7.5 mg/L, four times 1.875 mg/L (computed independently).
	it("is dosed by the protocol that a household was given: the field card takes four times the chlorine of clear water", async () => {
		await world.store.work.run(async (tx) => {
			await tx.query(
				`INSERT INTO person (id, code, role, name, language, area_id, working_days, quiet_from, quiet_until, channels, active)
				 VALUES ('card', 'card', 'volunteer', '', 'en', 'area', '[1]', '20:00', '06:00', '[]', $1)`,
				[true],
			);
			await tx.query(
				"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('hc', 'HC', 'area', 'card', 5, 'well', 'clear')",
			);
		});
		const grams = async () =>
			(await dailyNeed(world.store, ["card"], START_MS, policy)).get("card")?.chlorineGramsPerDay as number;
		const before = await grams();
		await world.store.work.run((tx) =>
			tx.query(
				"INSERT INTO household_protocol (household_id, protocol_version_id, since_ms) SELECT 'hc', id, 0 FROM protocol_version WHERE code = 'field-card'",
			),
		);
		expect((await grams()) / before).toBeCloseTo(4, 6);
	});
});
