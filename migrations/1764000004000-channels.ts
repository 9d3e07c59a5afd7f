import type { MigrationInterface, QueryRunner } from "typeorm";
import { addColumns, dropColumns, index, table } from "./tables.js";

/** Where a person is reached beside her phone, and what channels told of messages after they had taken them. */
export class Channels1764000004000 implements MigrationInterface {
	readonly name = "Channels1764000004000";

	async up(runner: QueryRunner): Promise<void> {
		await addColumns(runner, "person", { email: "text?" });
		await index(runner, "person", "person_email", ["email"]);
		await table(runner, "push_subscription", {
			id: "text key",
			person_id: "text > person",
			endpoint: "text",
			p256dh: "text",
			auth: "text",
			created_at_ms: "instant",
		});
		await index(runner, "push_subscription", "push_subscription_once", ["endpoint"], { isUnique: true });
		await index(runner, "push_subscription", "push_subscription_person", ["person_id"]);
		await table(runner, "message_receipt", {
			id: "text key",
			channel: "text",
			channel_message_id: "text",
			message_id: "text? > message",
			claim: "whole?",
			segment: "whole?",
			state: "text",
			reason: "text?",
			at_ms: "instant",
			received_at_ms: "instant",
		});
		await index(runner, "message_receipt", "message_receipt_once", ["channel", "channel_message_id"], { isUnique: true });
		await index(runner, "message_receipt", "message_receipt_message", ["message_id"]);
		await index(runner, "message_receipt", "message_receipt_unknown", ["channel"], { where: "message_id IS NULL" });
		await index(runner, "message", "message_failed", ["channel", "recipient_id"], { where: "state = 'failed'" });
	}

	async down(runner: QueryRunner): Promise<void> {
		await runner.dropIndex("message", "message_failed");
		await runner.dropTable("message_receipt");
		await runner.dropTable("push_subscription");
		await runner.dropIndex("person", "person_email");
		await dropColumns(runner, "person", ["email"]);
	}
}
