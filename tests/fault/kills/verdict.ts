import { verifyLedger } from "../../../src/ledger/verify.js";
import type { Store } from "../../../src/store/store.js";
import type { CountingPeer } from "../../support/counting-peer.js";
import { brokenInvariants, type Look } from "../invariants.js";
import type { Fact } from "./facts.js";
import type { Sends } from "./sends.js";

/** What is known when nothing is left to do. */
export interface Evidence {
	readonly look: Look;
	open(): Promise<Store>;
	/** Facts that were told, and those that were said to be kept, or refused with a code. */
	readonly told: ReadonlyMap<string, Fact>;
	readonly kept: ReadonlyMap<string, string | undefined>;
	readonly sends: Sends;
	readonly peer: CountingPeer;
	readonly nowMs: number;
}

/** @returns everything that is not as it should be, by name; empty: nothing was lost, doubled or half done */
export async function allThatIsWrong(on: Evidence): Promise<object> {
	const { look } = on;
	const store = await on.open();
	const integrity = store.kind === "sqlite" ? await store.query("PRAGMA integrity_check") : [{ integrityCheck: "ok" }];
	const dangling = store.kind === "sqlite" ? await store.query("PRAGMA foreign_key_check") : [];
	const { findings } = await verifyLedger(store);
	await store.close();
	const wrong = {
		"invariants broken": await brokenInvariants(look),
		"sent again though the outcome was known": on.sends.wrong,
		"integrity check": JSON.stringify(integrity) === '[{"integrityCheck":"ok"}]' ? [] : integrity,
		"rows that point nowhere": dangling,
		"findings in the ledger": findings,
		...(await lost(on)),
	};
	return Object.fromEntries(Object.entries(wrong).filter(([, found]) => Object.keys(found).length > 0));
}

async function lost({ look, told, kept, peer, nowMs }: Evidence): Promise<Record<string, object>> {
	const idsOf = async (statement: string) => new Set((await look<{ id: string }>(statement)).map(({ id }) => id));
	const sent = await idsOf("SELECT id FROM message WHERE state = 'sent'");
	const messages = await idsOf("SELECT id FROM message");
	const came = new Set(peer.keys);
	const texts = await idsOf("SELECT channel_message_id AS id FROM reply WHERE outcome <> 'received'");
	const jars = await idsOf("SELECT code AS id FROM batch");
	const uses = await look<{ id: string }>("SELECT reference AS id FROM stock_move WHERE kind = 'used'");
	const timesUsed = (key: string) => uses.filter(({ id }) => id === key).length;
	const isThere = ({ kind, key }: Fact): boolean => {
		if (kind === "reply") return texts.has(key);
		if (kind === "jar") return jars.has(key);
		// What nobody has said to be kept may be there once, or not.
		return kept.has(key) ? timesUsed(key) === 1 : timesUsed(key) <= 1;
	};
	return {
		"on record as sent, and never came": [...sent].filter((id) => !came.has(id)),
		"came, and isn't on record": [...came].filter((id) => !messages.has(id)),
		"came under several keys": peer.changedKeys,
		"facts that are lost or doubled": [...told.values()].filter((fact) => !isThere(fact)).map(({ key }) => key),
		"facts that were refused": [...kept].filter(([, code]) => code !== undefined && code !== "conflict"),
		"jars that were due and never asked for": await look(
			`SELECT b.id FROM batch b JOIN due d ON d.subject_id = b.id WHERE b.id LIKE 'jar%' AND (d.due_at_ms IS NULL OR d.due_at_ms <= ${nowMs}) AND NOT EXISTS (SELECT 1 FROM task t WHERE t.subject_id = b.id)`,
		),
		"tasks that nobody was told of": await look(
			"SELECT t.id, t.kind FROM task t WHERE t.assignee_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM message m WHERE m.task_id = t.id)",
		),
	};
}
