import type { MigrationInterface, QueryRunner } from "typeorm";
import { table } from "./tables.js";

/** What was let go under the programme's cap for a month, for all schedulers. */
export class MonthSegments1764800001000 implements MigrationInterface {
	readonly name = "MonthSegments1764800001000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "month_segments", { month: "text key", let_go: "whole" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("month_segments");
	}
}
