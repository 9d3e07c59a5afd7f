import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** Under which keys personal values rest sealed, and how they are found: sealing itself needs the key and follows when the database is opened. */
export class Personal1764200000000 implements MigrationInterface {
	readonly name = "Personal1764200000000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "data_key", { id: "text key", proof: "text" });
		await table(runner, "sealed_column", { id: "text key", guard: "text" });
		for (const { name, on, column, isUnique } of FOUND) {
			await runner.dropIndex(on, name);
			// Values that aren't sealed yet begin alike.
			const where = isUnique ? `WHERE substr(${column}, 1, 8) = 'sealed1.'` : "";
			await runner.query(`CREATE ${isUnique ? "UNIQUE " : ""}INDEX "${name}" ON "${on}" (substr(${column}, 9, 22)) ${where}`);
		}
		await this.withoutNames(runner);
	}

	/** The ledger named people in what it said of reminders, and isn't a chain yet. What it tells of them is their ids, which stand beside. */
	private async withoutNames(runner: QueryRunner): Promise<void> {
		const detail =
			runner.connection.options.type === "postgres"
				? "(detail::jsonb - 'name' - 'other')::text"
				: "json_remove(detail, '$.name', '$.other')";
		await runner.query(`UPDATE ledger_entry SET detail = ${detail} WHERE action IN ('reminded again', 'supervisor told')`);
	}

	async down(runner: QueryRunner): Promise<void> {
		const sealed = (await runner.query("SELECT id FROM sealed_column")) as unknown[];
		if (sealed.length > 0)
			throw new Error("personal values are sealed: an earlier release couldn't read them. Restore a backup made before.");
		for (const { name, on, column, isUnique } of FOUND) {
			await runner.query(`DROP INDEX "${name}"`);
			await index(runner, on, name, [column], { isUnique });
		}
		for (const name of ["sealed_column", "data_key"]) await runner.dropTable(name);
	}
}

/** Values that are searched for: a sealed one is found by the blind index in it, which begins at its 9th character. */
const FOUND = [
	{ name: "person_phone", on: "person", column: "phone_e164", isUnique: false },
	{ name: "person_email", on: "person", column: "email", isUnique: false },
	{ name: "push_subscription_once", on: "push_subscription", column: "endpoint", isUnique: true },
];
