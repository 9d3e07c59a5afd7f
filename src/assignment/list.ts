import { flagColumn, orEmpty, referenceColumn } from "../programme/import/column.js";
import type { Writing } from "../programme/import/importer.js";
import { importKind } from "../programme/import/kind.js";
import { languageColumn } from "../programme/import/people.js";
import { type Reference, toHousehold } from "../programme/import/references.js";
import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { writeCare } from "./assignments.js";
import { type HouseholdMove, type MovingParts, moveHouseholds } from "./moves.js";
import { assertRoomKept } from "./stated-room.js";

const toVolunteer: Reference = {
	noun: "volunteer at work",
	table: "person",
	select: "SELECT x.code, x.id FROM (SELECT code, id FROM person WHERE role = 'volunteer' AND active) x",
};

/** Who looks after which household, as a list. */
export const assignmentImport = importKind({
	name: "assignments",
	noun: "assignment",
	table: "household",
	columns: {
		/** Of a household that is there already. */
		code: referenceColumn(toHousehold),
		volunteer_code: orEmpty(referenceColumn(toVolunteer)),
		stays: orEmpty(flagColumn()),
		language: orEmpty(languageColumn),
	},
	fieldsOf(values, { idOf, refuse }) {
		if (values.stays && values.volunteer_code === null)
			refuse("stays", "must be empty or no where no volunteer is named to stay with");
		return { volunteer_id: idOf("volunteer_code"), stays: values.stays, language: values.language };
	},
});

interface ListFields {
	readonly volunteer_id: string | null;
	/** null: as it is. */
	readonly stays: boolean | null;
	readonly language: string | null;
}

interface Stored {
	readonly id: string;
	readonly code: string;
	readonly volunteerId: string | null;
	readonly language: string | null;
	readonly staysWithId: string | null;
}

/** Gives the households of a list to the volunteers that it names; whom no row names keeps what she has. An empty volunteer takes it away. */
export function assignmentsFromList(parts: MovingParts): Writing {
	return async (tx, chunks, { actor, nowMs }) => {
		const moves: HouseholdMove[] = [];
		const tally = { added: 0, changed: 0, unchanged: 0 };
		for await (const rows of chunks) {
			const stored = await storedOf(
				tx,
				rows.map(({ code }) => code),
			);
			for (const { code, fields } of rows) {
				const household = stored.get(code) as Stored;
				const wanted = fields as unknown as ListFields;
				const language = wanted.language ?? household.language;
				const staysWithId = wanted.stays === null ? household.staysWithId : wanted.stays ? wanted.volunteer_id : null;
				const caresDiffer = language !== household.language || staysWithId !== household.staysWithId;
				if (caresDiffer) await writeCare(tx, household.id, { language, staysWithId }, nowMs);
				const isMoving = wanted.volunteer_id !== household.volunteerId;
				if (isMoving) moves.push({ householdId: household.id, fromId: household.volunteerId, toId: wanted.volunteer_id });
				if (caresDiffer || isMoving) tally.changed++;
				else tally.unchanged++;
			}
		}
		await moveHouseholds(tx, parts, moves, { actor, nowMs, because: "list" });
		await assertRoomKept(tx, [...new Set(moves.flatMap(({ toId }) => toId ?? []))]);
		return tally;
	};
}

async function storedOf(tx: Transaction, codes: readonly string[]): Promise<Map<string, Stored>> {
	const rows = await tx.query<Stored>(
		`SELECT h.id, h.code, h.volunteer_id, c.language, c.stays_with_id FROM household h LEFT JOIN household_care c ON c.household_id = h.id
		 WHERE h.code IN (${placeholders(codes.length)})`,
		codes,
	);
	return new Map(rows.map((row) => [row.code, row]));
}
