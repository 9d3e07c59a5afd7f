import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Jars whose forecasts were made by rules or a climate that hold no more. */
export class StaleForecasts1764000000220 implements MigrationInterface {
	readonly name = "StaleForecasts1764000000220";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "forecast_stale", { batch_id: "text key > batch", since_ms: "instant", because: "text" });
		await index(runner, "forecast_stale", "forecast_stale_since", ["since_ms"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("forecast_stale");
	}
}
