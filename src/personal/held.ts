/**
 * What is told of rows that name a person: the row whole, where it is about her; the thing's own name, where she only has to do with it and
 * the rest is about others.
 */
export interface Held {
	readonly table: string;
	/** Columns that name her. */
	readonly by: readonly string[];
	/** none: the whole row. */
	readonly only?: readonly string[];
	/** Secrets that would let in whoever reads the export. */
	readonly without?: readonly string[];
}

/** Every place where a person is named; a test holds it against the schema. */
export const HELD: readonly Held[] = [
	{ table: "person", by: ["id"] },
	{ table: "volunteer_capacity", by: ["person_id"] },
	{ table: "consent", by: ["person_id"] },
	{ table: "absence", by: ["person_id"] },
	{ table: "push_subscription", by: ["person_id"], without: ["auth", "p256dh"] },
	{ table: "calendar_feed", by: ["person_id"], without: ["token_sha256"] },
	{ table: "message", by: ["recipient_id"] },
	{ table: "reply", by: ["person_id"] },
	{ table: "account", by: ["person_id"], without: ["password_hash", "totp_secret", "totp_last_step"] },
	{ table: "session", by: ["person_id"], without: ["token_hash"] },
	{ table: "sign_in_code", by: ["person_id"], without: ["code_hash"] },
	{ table: "area_duty", by: ["person_id"] },
	{ table: "task", by: ["assignee_id", "closed_by_id", "acknowledged_by_id"] },
	{ table: "strength_test", by: ["tester_id"] },
	{ table: "residual_check", by: ["checker_id"] },
	{ table: "container_cleaning", by: ["cleaner_id"] },
	{ table: "generator_care", by: ["by_person_id"] },
	{ table: "generator_run", by: ["operator_id"] },
	{ table: "battery_care", by: ["by_person_id"] },
	{ table: "battery_reading", by: ["reader_id"] },
	{ table: "generator_outage", by: ["by_person_id"] },
	{ table: "stock_move", by: ["by_person_id"] },
	{ table: "item_move", by: ["by_person_id"] },
	{ table: "jar_stay", by: ["keeper_id", "by_person_id"] },
	{ table: "audit_visit", by: ["auditor_id"] },
	{ table: "audit_result", by: ["by_person_id"] },
	{ table: "bleach_want", by: ["volunteer_id"] },
	{ table: "kit_comparison", by: ["tester_id", "other_tester_id"] },
	{ table: "ledger_entry", by: ["actor", "subject_id"] },
	{ table: "absence", by: ["to_id"], only: ["id", "from_on", "until_on"] },
	{ table: "handed_over", by: ["to_id"], only: ["id", "kind", "at_ms"] },
	{ table: "household", by: ["volunteer_id"], only: ["code"] },
	{ table: "household_care", by: ["stays_with_id"], only: ["household_id"] },
	{ table: "batch", by: ["keeper_id"], only: ["code"] },
	{ table: "generator", by: ["operator_id"], only: ["code"] },
	{ table: "kit_lot", by: ["holder_id"], only: ["code"] },
	{ table: "stock_item", by: ["holder_id"], only: ["code"] },
	{ table: "person", by: ["supervisor_id"], only: ["code"] },
	{ table: "assignment_proposal", by: ["rest_to_id"], only: ["id", "asked_at_ms", "state"] },
	{ table: "assignment_proposal_line", by: ["from_id", "to_id"], only: ["proposal_id", "household_id", "state"] },
];
