import { DAY_MS } from "../../src/time/clock.js";
import type { World } from "../support/world.js";

/** More people and households under the supervisor of the world: one volunteer has too much, one is new, some households have nobody. */
export async function putDistrict(world: World): Promise<void> {
	const { store, clock } = world;
	const nowMs = clock.nowMs();
	await store.work.run(async (tx) => {
		for (const [id, name, latitudeDeg, longitudeDeg, most] of [
			["amina", "Invented Amina", -1.49, 37.012, 3],
			["baraka", "Invented Baraka", -1.512, 36.99, 12],
			["chausiku", "Invented Chausiku", -1.503, 37.004, 12],
		] as const) {
			await tx.query(
				`INSERT INTO person (id, code, role, name, language, area_id, supervisor_id, working_days, quiet_from, quiet_until, channels, active)
				 VALUES ($1, $1, 'volunteer', $2, 'en', 'area', 'sup', '[1,2,3,4,5,6,7]', '20:00', '06:00', '[]', $3)`,
				[id, name, true],
			);
			await tx.query(
				"INSERT INTO volunteer_capacity (person_id, latitude_deg, longitude_deg, most_households, changed_at_ms) VALUES ($1, $2, $3, $4, 0)",
				[id, latitudeDeg, longitudeDeg, most],
			);
		}
		for (let n = 10; n < 40; n++) {
			const [latitudeDeg, longitudeDeg] = [-1.5 + (((n * 7) % 13) - 6) * 0.0025, 37 + (((n * 5) % 11) - 5) * 0.003];
			const volunteer = n % 6 === 0 ? null : n < 15 ? "amina" : n % 2 === 0 ? "baraka" : "vol";
			await tx.query(
				`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity, latitude_deg, longitude_deg)
				 VALUES ($1, $1, 'area', $2, 5, 'well', 'clear', $3, $4)`,
				[`H${n}`, volunteer, n === 20 ? null : latitudeDeg, n === 20 ? null : longitudeDeg],
			);
		}
		for (const [code, inService] of [
			["G1", true],
			["G2", false],
		] as const)
			await tx.query(
				`INSERT INTO generator (id, code, name, area_id, rated_current_a, cells_in_series, current_efficiency, batch_volume_l, salt_g_per_l, in_service, operator_id)
				 VALUES ($1, $1, 'Invented cell', 'area', 5, 1, 0.6, 20, 30, $2, 'vol')`,
				[code, inService],
			);
		for (const [volunteer, generator, volumeMl, days] of [
			["amina", "G1", 2500, 2],
			["baraka", "G1", 4000, 4],
			["chausiku", "G2", 1500, 5],
		] as const)
			await tx.query(
				`INSERT INTO bleach_want (volunteer_id, generator_id, want_at_ms, volume_ml, chlorine_g_per_day, out_at_ms, reckoned_at_ms)
				 VALUES ($1, $2, $3, $4, 1.2, $5, $6)`,
				[volunteer, generator, nowMs + days * DAY_MS, volumeMl, nowMs + (days + 2) * DAY_MS, nowMs],
			);
		await tx.query(
			`INSERT INTO person (id, code, role, name, language, area_id, working_days, quiet_from, quiet_until, channels, active)
			 VALUES ('off', 'office', 'health office', $2, 'en', 'area', '[1,2,3,4,5]', '20:00', '06:00', '[]', $1)`,
			[true, "Invented Officer"],
		);
		// Another district, which is nobody's business here.
		await tx.query(
			`INSERT INTO area (id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
			 SELECT 'elsewhere', 'Z9', 'Another district', time_zone, 2, 38, 900, climate FROM area WHERE id = 'area'`,
		);
		await tx.query(
			`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ('HZ', 'HZ', 'elsewhere', NULL, 5, 'well', 'clear')`,
		);
		await tx.query(
			`INSERT INTO person (id, code, role, name, language, area_id, working_days, quiet_from, quiet_until, channels, active)
			 VALUES ('zed', 'zed', 'volunteer', $2, 'en', 'elsewhere', '[1]', '20:00', '06:00', '[]', $1)`,
			[true, "Somebody elsewhere"],
		);
	});
}
