import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** Where jars stand and what they were poured from, every move of bleach, what is planned to be made, and what else is in stock. */
export class Stock1764000002000 implements MigrationInterface {
	readonly name = "Stock1764000002000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "batch", ADDED);
		await index(runner, "batch", "batch_household", ["household_id"]);
		await index(runner, "batch", "batch_drawn_from", ["drawn_from_id"]);
		await bleach(runner);
		await items(runner);
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of TABLES.toReversed()) await runner.dropTable(name);
		await runner.dropIndex("batch", "batch_drawn_from");
		await runner.dropIndex("batch", "batch_household");
		await dropColumns(runner, "batch", Object.keys(ADDED));
	}
}

const ADDED = {
	household_id: "text? > household",
	drawn_from_id: "text? > batch",
	drawn_at_ms: "instant?",
	held_ul: "whole?",
	fill: "whole?",
	set_aside_until_ms: "instant?",
};

const TABLES = ["stock_move", "jar_stay", "bleach_want", "production_plan", "stock_item", "item_move"];

async function bleach(runner: QueryRunner): Promise<void> {
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
	await table(runner, "jar_stay", {
		id: "text key",
		jar_id: "text > batch",
		fill: "whole",
		in_jar_id: "text > batch",
		since_ms: "instant",
		recorded_at_ms: "instant",
		area_id: "text > area",
		keeper_id: "text? > person",
		household_id: "text? > household",
		wall: "text",
		exposure: "text",
		volume_l: "real",
		lit_area_m2: "real",
		by_person_id: "text? > person",
	});
	await index(runner, "jar_stay", "jar_stay_jar", ["jar_id", "fill", "since_ms"]);
	await table(runner, "bleach_want", {
		volunteer_id: "text key > person",
		generator_id: "text? > generator",
		want_at_ms: "instant?",
		volume_ml: "whole",
		chlorine_g_per_day: "real",
		out_at_ms: "instant?",
		reckoned_at_ms: "instant",
	});
	await index(runner, "bleach_want", "bleach_want_generator", ["generator_id", "want_at_ms"]);
	await table(runner, "production_plan", {
		id: "text key",
		generator_id: "text > generator",
		area_id: "text > area",
		planned_at_ms: "instant",
		by_ms: "instant",
		runs: "whole",
		litres: "real",
		plan: "text",
		ended_at_ms: "instant?",
		ended_because: "text?",
	});
	await index(runner, "production_plan", "production_plan_current", ["generator_id"], {
		isUnique: true,
		where: "ended_at_ms IS NULL",
	});
	await index(runner, "production_plan", "production_plan_area", ["area_id", "by_ms"]);
}

async function items(runner: QueryRunner): Promise<void> {
	await table(runner, "stock_item", {
		id: "text key",
		code: "text",
		kind: "text",
		area_id: "text > area",
		holder_id: "text? > person",
		generator_id: "text? > generator",
		unit: "text",
		held: "whole",
		expires_on: "text?",
		use_per_day: "real?",
		reorder_at: "whole?",
		order_up_to: "whole?",
		changed_at_ms: "instant",
	});
	await index(runner, "stock_item", "stock_item_code", ["code"], { isUnique: true });
	await index(runner, "stock_item", "stock_item_holder", ["holder_id"]);
	await index(runner, "stock_item", "stock_item_generator", ["generator_id"]);
	await table(runner, "item_move", {
		id: "text key",
		item_id: "text > stock_item",
		kind: "text",
		quantity: "whole",
		at_ms: "instant",
		recorded_at_ms: "instant",
		by_person_id: "text? > person",
		other_item_id: "text? > stock_item",
		reference: "text?",
	});
	await index(runner, "item_move", "item_move_item", ["item_id", "at_ms"]);
}
