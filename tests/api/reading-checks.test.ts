import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { onEachDatabase } from "../support/stores.js";
import { START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("checks of readings over HTTP", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		const draws = new SeededRandomness(1);
		await api.world.store.work.run(async (tx) => {
			for (let v = 0; v < 6; v++) {
				await tx.insert(
					"person",
					[
						"id",
						"code",
						"role",
						"name",
						"language",
						"area_id",
						"working_days",
						"quiet_from",
						"quiet_until",
						"channels",
						"active",
					],
					[[`V${v}`, `V${v}`, "volunteer", "Invented", "en", "area", "[1]", "20:00", "06:00", "[]", true]],
				);
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $1, 'area', $2, 5, 'well', 'clear')",
					[`H${v}`, `V${v}`],
				);
				await tx.query("INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ($1, $1, $2, 20, 'tap')", [
					`C${v}`,
					`H${v}`,
				]);
				const readings = Array.from({ length: 30 }, (_, i) => [
					...[`R${v}-${i}`, `C${v}`, START_MS - 40 * DAY_MS + i * DAY_MS + v * HOUR_MS],
					...[v === 5 ? 0.5 : draws.pick([0, 0.1, 0.2, 0.3, 0.5, 0.5, 0.8, 1]), `V${v}`],
				]);
				await tx.insert(
					"residual_check",
					["id", "container_id", "checked_at_ms", "free_chlorine_mg_per_l", "checker_id"],
					readings,
				);
			}
		});
	});
	afterAll(() => api.close());

	it("name who is to be checked and why, and nobody else", async () => {
		const { status, body } = await api.ask("GET", "/reading-checks?area=A1&from=2026-01-01&to=2026-02-28");
		expect(status).toBe(200);
		expect(body).toMatchObject({ looked: 6, tooFewReadings: 0 });
		expect(
			body.flagged.map(({ volunteerCode, advice, readings }: Record<string, unknown>) => [volunteerCode, advice, readings]),
		).toEqual([["V5", "check", 30]]);
		expect(body.flagged[0].flags[0]).toMatchObject({ limit: null, figures: { matchShare: 1, longestRun: 30 } });
	});

	it("are refused for a period in the future, and for a walk at no speed", async () => {
		expect((await api.ask("GET", "/reading-checks?area=A1&from=2026-05-01&to=2026-05-31")).body.code).toBe("time-in-future");
		expect((await api.ask("GET", "/reading-checks?area=A1&from=2026-01-01&to=2026-02-28&fastestKmPerH=0")).body.code).toBe(
			"invalid-input",
		);
	});
});
