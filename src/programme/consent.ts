import type { Transaction } from "../store/unit-of-work.js";
import type { ConsentManner, ConsentPurpose } from "./consent-rows.js";

/**
 * Whether a person may be written to, in SQL: she hasn't asked not to be, and has consented where the programme asks for that first.
 * @param x alias of the person's table
 */
export function mayBeWrittenTo(x: string, kind: Transaction["kind"]): string {
	return `(${x}.opted_out_at_ms IS NULL AND NOT ${lacksConsent(x, kind)})`;
}

/** Whether the programme asks for a consent that the person hasn't given, in SQL; looked up once a statement. */
export function lacksConsent(x: string, kind: Transaction["kind"]): string {
	const asked =
		kind === "postgres"
			? "COALESCE((SELECT (policy::json -> 'personal' ->> 'consentBeforeMessages') = 'true' FROM programme WHERE id = 'programme'), false)"
			: "COALESCE((SELECT json_extract(policy, '$.personal.consentBeforeMessages') FROM programme WHERE id = 'programme'), 0)";
	return `(${x}.consented_at_ms IS NULL AND ${asked})`;
}

/** Takes back a consent in the unit of work in which somebody says so. @returns whether there was one */
export async function takeBackConsent(
	tx: Transaction,
	personId: string,
	purpose: ConsentPurpose,
	by: ConsentManner,
	atMs: number,
): Promise<boolean> {
	if (purpose === "messages")
		await tx.affected("UPDATE person SET opted_out_at_ms = COALESCE(opted_out_at_ms, $2), consented_at_ms = NULL WHERE id = $1", [
			personId,
			atMs,
		]);
	const taken = await tx.affected(
		"UPDATE consent SET withdrawn_at_ms = $3, withdrawn_by = $4 WHERE person_id = $1 AND purpose = $2 AND withdrawn_at_ms IS NULL",
		[personId, purpose, atMs, by],
	);
	return taken > 0;
}
