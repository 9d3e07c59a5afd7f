import { migrations } from "../../migrations/index.js";
import { entities } from "../../src/entities.js";
import { Store } from "../../src/store/store.js";
import { anArea } from "../support/builders.js";

/** So many messages come to one person: a volunteer's jars that were all due in one night, told one by one. */
export const MESSAGES_A_PERSON = 5;

/**
 * Puts reminders that are ready into the outbox, five for each of as many people as that takes, the first of each before the second;
 * made by the database itself.
 * @returns id of one of the people
 */
export async function pile(location: string, count: number, nowMs: number): Promise<string> {
	// Names and numbers that the database itself makes are sealed when the program opens it.
	const store = await Store.open({ location, entities, migrations });
	const area = await anArea(store);
	const people = Math.ceil(count / MESSAGES_A_PERSON);
	const numbers = "WITH RECURSIVE number (n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM number WHERE n + 1 < CAST($1 AS integer))";
	await store.work.run(async (tx) => {
		await tx.query(
			`${numbers} INSERT INTO person (id, code, role, name, phone_e164, language, area_id, working_days, quiet_from, quiet_until, channels, active)
			 SELECT 'p' || (100000000 + n), 'P' || n, 'volunteer', 'Invented ' || n, '+44' || (7700900000 + n), 'en', $2, '[1,2,3,4,5,6,7]', '00:00', '00:00', '[]', true FROM number`,
			[people, area.id],
		);
		await tx.query(
			`${numbers} INSERT INTO message (id, idempotency_key, recipient_id, text, fill, urgent, state, created_at_ms, ready_at_ms, next_try_at_ms, claim, tries)
			 SELECT 'm' || (100000000 + n), 'key' || n, 'p' || (100000000 + n % CAST($2 AS integer)), 'jar.weak', '{"jar":"INV-J01","strengthGPerL":2.4}', false, 'waiting',
			   CAST($3 AS bigint), CAST($3 AS bigint), CAST($3 AS bigint), 0, 0 FROM number`,
			[count, people, nowMs],
		);
	});
	await store.close();
	return "p100000000";
}
