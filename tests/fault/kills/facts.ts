import type { Incoming } from "../../../src/messages/inbound/incoming.js";
import type { NewBatch } from "../../../src/stock/register.js";
import { HOUR_MS } from "../../../src/time/clock.js";
import type { Randomness } from "../../../src/time/randomness.js";
import { A_JAR } from "../../support/a-jar.js";

/** What people tell a process; the key names it for good. */
export type Fact = { readonly key: string } & (
	| { readonly kind: "reply"; readonly fact: Incoming }
	| { readonly kind: "jar"; readonly fact: NewBatch }
	| { readonly kind: "used"; readonly fact: { readonly jarCode: string; readonly volumeMl: number; readonly note: string } }
);

/** A task that waits for its volunteer. */
export interface Asked {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly assigneeId: string;
}

/** What each kind of work is answered with; a retest with a reading of bleach that is still good. */
const ANSWER = (kind: string) => (kind === "retest stored bleach" ? "2" : "done");

/** The text with which a volunteer of `putJars` answers a task: the same for the same task, so that handed in twice it is one. */
export function answerTo({ id, code, kind, assigneeId }: Asked): Fact {
	const fromAddress = `+4477009${assigneeId.replace(/^vol/, "").padStart(5, "0")}`;
	return {
		kind: "reply",
		key: `r.${id}`,
		fact: { channel: "sms", channelMessageId: `r.${id}`, fromAddress, body: `${code} ${ANSWER(kind)}` },
	};
}

/** A jar that is put on file, made some hours ago. */
export function newJar(number: number, nowMs: number, chance: Randomness): Fact {
	const code = `NEW${number}`;
	return {
		kind: "jar",
		key: code,
		fact: {
			code,
			madeAtMs: nowMs - (1 + chance.below(20)) * HOUR_MS,
			...A_JAR,
			generatorCode: null,
			areaCode: "A1",
			keeperCode: `vol${chance.below(20)}`,
		},
	};
}

/** Some bleach is taken out of a jar. */
export function usedSome(number: number, jarCode: string): Fact & { readonly kind: "used" } {
	const note = `use ${number}`;
	return { kind: "used", key: note, fact: { jarCode, volumeMl: 1, note } };
}
