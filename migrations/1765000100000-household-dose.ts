import type { MigrationInterface, QueryRunner } from "typeorm";
import { table } from "./tables.js";

/** How many times its protocol's dose a household's water takes, by its own readings. */
export class HouseholdDose1765000100000 implements MigrationInterface {
	readonly name = "HouseholdDose1765000100000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "household_dose", {
			household_id: "text key > household",
			clear_times: "real",
			cloudy_times: "real",
			changed_at_ms: "instant",
		});
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("household_dose");
	}
}
