import { headSheet } from "../../ledger/head-sheet.js";
import { type GivenHead, headText } from "../../ledger/heads.js";

/** @returns what a letter with a head says, as plain text */
export function letterText(head: GivenHead, everyDays: number, publicUrl?: string): string {
	return [
		headSheet(head, head.givenAtMs),
		'It agrees where the command ends with "whole": then no entry up to this position was changed, removed, put in or moved since.',
		`Whoever can read the audit can also ask for it: GET /ledger/verification?anchor=${headText(head)}`,
		...(publicUrl === undefined ? [] : ["", `From ${publicUrl}`]),
		"",
		`A letter like this comes ${everyDays === 1 ? "every day" : `every ${everyDays} days`}. Where one stays away, ask why.`,
		"",
	].join("\n");
}
