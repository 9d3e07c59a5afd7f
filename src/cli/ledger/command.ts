import { InputError } from "../../errors/errors.js";
import type { Heads } from "../../ledger/heads.js";
import type { Store } from "../../store/store.js";
import { numberOf } from "../option-values.js";
import { type AddCommand, Ended, type Outlets } from "../program.js";

/** Holds the ledger against its chain, and gives out its head. */
export const addLedger: AddCommand = (program, outlets) => {
	const ledger = program.command("ledger").description("The record of every change: who, when, what, why, from where.");
	ledger
		.command("verify")
		.description(
			"Find every entry that was changed, removed, put in or moved since it was written; exit code 3 where there is one.",
		)
		.option("--from <position>", "begin there and believe what lies before", positionFrom, 1)
		.option("--anchor <head...>", "heads that were printed or mailed, to be held against the ledger")
		.action((options: { from: number; anchor?: string[] }) => verified(options, outlets));
	ledger
		.command("head")
		.description("Print the head of the ledger, to be kept outside, and note that it was given out.")
		.option("--look", "note nothing: it is only looked at", false)
		.action(({ look }: { look: boolean }) => given(look, outlets));
};

async function verified({ from, anchor = [] }: { from: number; anchor?: string[] }, { out }: Outlets): Promise<void> {
	const { headFrom } = await import("../../ledger/heads.js");
	const { verifyLedger } = await import("../../ledger/verify.js");
	const { verificationText } = await import("./text.js");
	const heads = anchor.map(headFrom);
	await withService(async ({ store }) => {
		const verification = await verifyLedger(store, from, heads);
		out(verificationText(verification));
		if (verification.findings.length > 0) throw new Ended(NOT_WHOLE);
	});
}

/** Apart from 2, which says that the command was misused. */
const NOT_WHOLE = 3;

function positionFrom(text: string): number {
	const position = numberOf(text, 1, Number.MAX_SAFE_INTEGER);
	if (position !== undefined && Number.isInteger(position)) return position;
	throw new InputError("invalid-input", `--from must be a position: a whole number from 1, got "${text}"`);
}

async function given(onlyLook: boolean, { out }: Outlets): Promise<void> {
	const { headSheet } = await import("../../ledger/head-sheet.js");
	await withService(async ({ heads, sealed }) => {
		await sealed();
		if (!onlyLook) {
			const head = await heads.give("printed", "office");
			return void out(headSheet(head, head.givenAtMs));
		}
		const head = await heads.current();
		if (head.sealedAtMs === null)
			throw new InputError("conflict", "The ledger has no sealed entry yet; there is no head.", { status: 409 });
		out(headSheet(head, head.sealedAtMs));
	});
}

interface Parts {
	readonly store: Store;
	readonly heads: Heads;
	/** What waits is sealed first. */
	readonly sealed: () => Promise<unknown>;
}

async function withService(work: (parts: Parts) => Promise<void>): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Heads } = await import("../../ledger/heads.js");
	const { from } = await import("../../ledger/origin.js");
	const { Sealer } = await import("../../ledger/sealer.js");
	const { Store } = await import("../../store/store.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		const { app } = service;
		const parts = { store: app.get(Store), heads: app.get(Heads), sealed: () => app.get(Sealer).seal() };
		await from("command ledger", () => work(parts));
	} finally {
		await service.stop();
	}
}
