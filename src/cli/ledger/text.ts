import { utc } from "../../ledger/head-sheet.js";
import type { Verification } from "../../ledger/verify.js";

/** @returns what verifying has found, for whoever ran it */
export function verificationText({ from, entries, head, waiting, anchors, findings, more }: Verification): string {
	const lines = [
		`${counted(entries, "entry", "entries")} from position ${from} to ${head.position} held against the chain`,
		`${counted(anchors, "head", "heads")} that ${anchors === 1 ? "was" : "were"} given out or brought along ${anchors === 1 ? "agrees" : "agree"}`,
		waiting.oldestAtMs === null
			? "nothing waits to be sealed"
			: `${counted(waiting.entries, "entry waits", "entries wait")} to be sealed, the oldest since ${utc(waiting.oldestAtMs)}`,
	];
	if (findings.length === 0) return `${lines.join("\n")}\nwhole: nothing was changed, removed, put in or moved\n`;
	const found = findings.map(({ kind, message }) => `${kind}: ${message}`);
	const rest = more > 0 ? [`and ${more} more`] : [];
	return `${[...lines, `NOT WHOLE: ${counted(findings.length + more, "finding", "findings")}`, ...found, ...rest].join("\n")}\n`;
}

function counted(number: number, one: string, several: string): string {
	return `${number.toLocaleString("en")} ${number === 1 ? one : several}`;
}
