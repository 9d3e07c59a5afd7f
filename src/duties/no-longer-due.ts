import type { Transaction } from "../store/unit-of-work.js";
import { type DueSubject, type DutyKind, isOpening, type Moment, type Overtaken } from "./kind.js";

/**
 * Open work that wouldn't be opened now, by the same look at the facts that opens it.
 * @param because what happened instead, in a few words
 */
export async function noLongerDue(
	kind: Pick<DutyKind, "openings">,
	tx: Transaction,
	due: readonly DueSubject[],
	moment: Moment,
	because: string,
): Promise<Overtaken[]> {
	const decided = await kind.openings(tx, due, moment);
	return decided.flatMap((decision) => (isOpening(decision) ? [] : [{ ...decision, evidence: { because } }]));
}
