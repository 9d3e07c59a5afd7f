import type { Anchor } from "./anchors.js";
import { headText } from "./heads.js";

/** @returns a head in the form in which it is printed and kept */
export function headSheet(head: Anchor, atMs: number): string {
	const groups = (head.hash.match(/.{8}/g) ?? []).join(" ");
	return [
		"Head of the ledger",
		`position  ${head.position}`,
		`hash      ${groups.slice(0, 35)}`,
		`          ${groups.slice(36)}`,
		`at        ${utc(atMs)}`,
		"",
		"Keep this where nobody who can change the database can change it too.",
		"To hold the ledger against it later:",
		`jarwatch ledger verify --anchor ${headText(head)}`,
		"",
	].join("\n");
}

export const utc = (atMs: number): string => `${new Date(atMs).toISOString().slice(0, 19).replace("T", " ")} UTC`;
