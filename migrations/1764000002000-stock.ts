import { type MigrationInterface, type QueryRunner, TableColumn, TableForeignKey } from "typeorm";
import { index, table } from "./tables.js";

/** Where jars stand and what they were poured from, and every move of bleach. */
export class Stock1764000002000 implements MigrationInterface {
	readonly name = "Stock1764000002000";

	async up(runner: QueryRunner): Promise<void> {
		for (const [name, type, referencedTableName] of ADDED) {
			await runner.addColumn("batch", new TableColumn({ name, type, isNullable: true }));
			if (!referencedTableName) continue;
			const key = { columnNames: [name], referencedTableName, referencedColumnNames: ["id"] };
			await runner.createForeignKey("batch", new TableForeignKey(key));
		}
		await index(runner, "batch", "batch_household", ["household_id"]);
		await index(runner, "batch", "batch_drawn_from", ["drawn_from_id"]);
		await table(runner, "stock_move", {
			id: "text key",
			jar_id: "text > batch",
			kind: "text",
			volume_ul: "whole",
			at_ms: "instant",
			recorded_at_ms: "instant",
			by_person_id: "text? > person",
			other_jar_id: "text? > batch",
			reference: "text?",
		});
		await index(runner, "stock_move", "stock_move_jar", ["jar_id", "at_ms"]);
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropTable("stock_move");
		await runner.dropIndex("batch", "batch_drawn_from");
		await runner.dropIndex("batch", "batch_household");
		for (const [name] of ADDED.toReversed()) await runner.dropColumn("batch", name);
	}
}

const ADDED: readonly (readonly [column: string, type: string, target?: string])[] = [
	["household_id", "text", "household"],
	["drawn_from_id", "text", "batch"],
	["drawn_at_ms", "bigint"],
	["held_ul", "integer"],
];
