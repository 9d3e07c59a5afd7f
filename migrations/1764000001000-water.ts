import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** How households use water, where each fill of a container stands in its protocol, and when containers were cleaned. */
export class Water1764000001000 implements MigrationInterface {
	readonly name = "Water1764000001000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "household_water", {
			household_id: "text key > household",
			drinking_l_per_person_day: "real?",
			food_l_per_person_day: "real?",
			hygiene_l_per_person_day: "real?",
			refill_every_hours: "real?",
			season_from_month: "whole?",
			season_until_month: "whole?",
			season_source: "text?",
			season_turbidity: "text?",
			changed_at_ms: "instant?",
		});
		await table(runner, "container_fill", {
			container_id: "text key > container",
			dose_id: "text? > dose",
			protocol_version_id: "text > protocol_version",
			so_far: "text?",
			waiting_since_ms: "instant?",
		});
		await table(runner, "container_cleaning", {
			id: "text key",
			container_id: "text > container",
			cleaned_at_ms: "instant",
			recorded_at_ms: "instant",
			cleaner_id: "text? > person",
		});
		await index(runner, "container_cleaning", "container_cleaning_container", ["container_id", "cleaned_at_ms"]);
		for (const [on, columns] of Object.entries(ADDED)) await addColumns(runner, on, columns);
		await index(runner, "dose", "dose_one_open", ["container_id"], { isUnique: true, where: "state = 'open'" });
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of ["container_cleaning", "container_fill", "household_water"]) await runner.dropTable(name);
		await runner.query("DROP INDEX dose_one_open");
		for (const [on, columns] of Object.entries(ADDED)) await dropColumns(runner, on, Object.keys(columns));
	}
}

const ADDED = {
	dose: {
		state: "text?",
		ended_at_ms: "instant?",
		ended_because: "text?",
	},
	residual_check: {
		recorded_at_ms: "instant?",
		dose_id: "text?",
		protocol_version_id: "text?",
		moment: "text?",
		band: "text?",
		fit_to_drink: "flag?",
		flags: "text?",
		task_id: "text?",
	},
};
