import type { MigrationInterface, QueryRunner } from "typeorm";
import { index, table } from "./tables.js";

/** What volunteers can take on, whom households need, who is away, what was handed over for her, and proposals of who looks after whom. */
export class Assignment1764000006000 implements MigrationInterface {
	readonly name = "Assignment1764000006000";

	async up(runner: QueryRunner): Promise<void> {
		await table(runner, "volunteer_capacity", {
			person_id: "text key > person",
			latitude_deg: "real?",
			longitude_deg: "real?",
			most_households: "whole?",
			most_litres_per_day: "real?",
			most_hours_per_week: "real?",
			works_from: "text?",
			works_until: "text?",
			changed_at_ms: "instant",
		});
		await table(runner, "household_care", {
			household_id: "text key > household",
			language: "text?",
			stays_with_id: "text? > person",
			changed_at_ms: "instant",
		});
		await table(runner, "absence", {
			id: "text key",
			person_id: "text > person",
			reason: "text",
			from_on: "text",
			until_on: "text?",
			recorded_at_ms: "instant",
			returned_at_ms: "instant?",
		});
		await index(runner, "absence", "absence_person", ["person_id"]);
		await index(runner, "absence", "absence_one_open", ["person_id"], { isUnique: true, where: "returned_at_ms IS NULL" });
		await table(runner, "handed_over", {
			id: "text key",
			absence_id: "text > absence",
			kind: "text",
			subject_id: "text",
			to_id: "text > person",
			at_ms: "instant",
		});
		await index(runner, "handed_over", "handed_over_absence", ["absence_id"]);
		await table(runner, "assignment_proposal", {
			id: "text key",
			area_id: "text > area",
			absence_id: "text? > absence",
			state: "text",
			version: "whole",
			asked_at_ms: "instant",
			deadline_ms: "instant",
			closed_at_ms: "instant?",
			rest_to_id: "text? > person",
			summary: "text?",
		});
		await index(runner, "assignment_proposal", "assignment_proposal_asked", ["asked_at_ms"]);
		await table(runner, "assignment_proposal_line", {
			proposal_id: "text key > assignment_proposal",
			household_id: "text key > household",
			from_id: "text? > person",
			to_id: "text? > person",
			from_km: "real?",
			to_km: "real?",
			state: "text",
		});
	}

	async down(runner: QueryRunner): Promise<void> {
		for (const name of [
			"assignment_proposal_line",
			"assignment_proposal",
			"handed_over",
			"absence",
			"household_care",
			"volunteer_capacity",
		])
			await runner.dropTable(name);
	}
}
