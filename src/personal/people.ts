import { InputError } from "../errors/errors.js";
import type { Transaction } from "../store/unit-of-work.js";

/** A person as what is held of her is looked after. */
export interface HeldPerson {
	readonly id: string;
	readonly code: string;
	readonly areaId: string;
	readonly name: string;
	readonly phoneE164: string | null;
	readonly email: string | null;
	readonly optedOutAtMs: number | null;
	readonly erasedAtMs: number | null;
}

/** @throws InputError `unknown-subject` (404) */
export async function personWithCode(from: Pick<Transaction, "query">, code: string): Promise<HeldPerson> {
	const [person] = await from.query<HeldPerson & object>(
		"SELECT id, code, area_id, name, phone_e164, email, opted_out_at_ms, erased_at_ms FROM person WHERE code = $1",
		[code],
	);
	if (person) return person;
	throw new InputError("unknown-subject", "There is no person of this code.", { status: 404 });
}
