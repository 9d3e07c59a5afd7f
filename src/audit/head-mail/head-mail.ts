import type { GivenHead, Heads } from "../../ledger/heads.js";
import { record } from "../../ledger/ledger.js";
import type { Log } from "../../log/log.js";
import type { Delivery, Notifier } from "../../messages/notifier.js";
import { restAfterFailureMs } from "../../messages/retry.js";
import { Tries } from "../../messages/tries.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import type { Randomness } from "../../time/randomness.js";
import { letterText } from "./letter.js";
import type { LetterState } from "./rows.js";

export interface HeadMailParts {
	readonly store: Store;
	readonly clock: Clock;
	readonly ids: Ids;
	readonly randomness: Randomness;
	readonly heads: Heads;
	/** The channel for e-mail; none where nothing is to be mailed. */
	readonly email: Notifier | undefined;
	readonly log: Log;
}

export interface HeadMailSettings {
	/** E-mail addresses; none: nothing is mailed. */
	readonly headTo: readonly string[];
	readonly headEveryDays: number;
	readonly publicUrl: string | undefined;
	readonly sendTimeoutMs: number;
	/** For so long nobody else tries a letter. */
	readonly leaseMs: number;
}

interface Letter extends Omit<GivenHead, "id"> {
	readonly id: string;
	readonly anchorId: string;
	readonly address: string;
	readonly tries: number;
	readonly nextAtMs: number;
}

/** Any fixed number serves that nothing else in the program locks. */
const POST_LOCK = 7_521_913;

/** Mails the head of the ledger now and then to people who keep it where nobody who can change the database can change it too. */
export class HeadMail {
	private readonly tries: Tries;

	constructor(
		private readonly parts: HeadMailParts,
		private readonly settings: HeadMailSettings,
	) {
		this.tries = new Tries(settings.sendTimeoutMs);
	}

	/** Gives a head out where one is due, and tries the letters that wait. @returns how many the mail server has taken */
	async post(goOn: () => boolean = () => true): Promise<number> {
		const { email } = this.parts;
		if (!email || this.settings.headTo.length === 0) return 0;
		if (await isDue(this.parts.store, this.dueBeforeMs())) await this.give();
		let sent = 0;
		for (const letter of await this.waiting()) {
			if (!goOn()) break;
			if ((await this.claimed(letter)) && (await this.carried(email, letter))) sent++;
		}
		return sent;
	}

	private dueBeforeMs(): number {
		return this.parts.clock.nowMs() - this.settings.headEveryDays * DAY_MS;
	}

	private give(): Promise<void> {
		const { store, heads, ids, clock } = this.parts;
		return store.work.run(async (tx) => {
			// Two schedulers look at the same time: the second waits for the first, and finds its letters.
			if (tx.kind === "postgres") await tx.query("SELECT pg_advisory_xact_lock($1)", [POST_LOCK]);
			if (!(await isDue(tx, this.dueBeforeMs()))) return;
			const head = await heads.giveIn(tx, "mailed", "scheduler");
			if (!head) return;
			await tx.insert(
				"head_letter",
				["id", "anchor_id", "address", "state", "tries", "next_at_ms"],
				this.settings.headTo.map((address) => [ids.next(), head.id, address, "waiting", 0, clock.nowMs()]),
			);
		});
	}

	private async waiting(): Promise<Letter[]> {
		return this.parts.store.query<Letter>(
			`SELECT l.id, l.anchor_id, l.address, l.tries, l.next_at_ms, a.position, a.hash, a.given_at_ms, a.how
			 FROM head_letter l JOIN ledger_anchor a ON a.id = l.anchor_id WHERE l.state = 'waiting' AND l.next_at_ms <= $1 ORDER BY l.id`,
			[this.parts.clock.nowMs()],
		);
	}

	private async claimed({ id, nextAtMs }: Letter): Promise<boolean> {
		const untilMs = this.parts.clock.nowMs() + this.settings.leaseMs;
		const ours = await this.parts.store.work.run((tx) =>
			tx.affected(
				"UPDATE head_letter SET next_at_ms = $2, tries = tries + 1 WHERE id = $1 AND state = 'waiting' AND next_at_ms = $3",
				[id, untilMs, nextAtMs],
			),
		);
		return ours === 1;
	}

	private async carried(email: Notifier, letter: Letter): Promise<boolean> {
		const { clock, randomness, log } = this.parts;
		const { headEveryDays, publicUrl, headTo } = this.settings;
		// Whoever was taken off the list since gets nothing more.
		if (!headTo.includes(letter.address)) return this.ended(letter, "refused");
		const attemptedAtMs = clock.nowMs();
		const delivery = await this.tries.of(email, {
			idempotencyKey: `head.${letter.id}`,
			messageId: letter.id,
			taskId: null,
			text: letterText({ ...letter, id: letter.anchorId }, headEveryDays, publicUrl),
			language: "en",
			urgent: false,
			recipient: { personId: "head", name: "", phoneE164: null, email: letter.address },
			attemptedAtMs,
		});
		if (delivery.kind === "accepted") return this.ended(letter, "sent");
		log.warn({ letter: letter.id, reason: delivery.reason }, `the ledger's head couldn't be mailed${afterwards(delivery)}`);
		if (delivery.forGood) return this.ended(letter, "refused");
		const nextAtMs = clock.nowMs() + restAfterFailureMs(letter.tries + 1, randomness, delivery.retryAfterMs);
		await this.parts.store.work.run((tx) =>
			tx.affected("UPDATE head_letter SET next_at_ms = $2 WHERE id = $1 AND state = 'waiting'", [letter.id, nextAtMs]),
		);
		return false;
	}

	/** @returns whether it was sent */
	private async ended({ id, anchorId, position, tries }: Letter, state: LetterState): Promise<boolean> {
		const { store, clock, ids } = this.parts;
		const atMs = clock.nowMs();
		await store.work.run(async (tx) => {
			const set = "UPDATE head_letter SET state = $2, ended_at_ms = $3 WHERE id = $1 AND state = 'waiting'";
			if ((await tx.affected(set, [id, state, atMs])) === 0) return;
			const action = state === "sent" ? "head mailed" : "head not mailed";
			const about = { actor: "scheduler", subjectKind: "ledger", subjectId: anchorId };
			await record(tx, ids, [{ ...about, atMs, action, detail: { letter: id, position, tries: tries + 1 } }]);
		});
		return state === "sent";
	}
}

const afterwards = ({ forGood }: Extract<Delivery, { kind: "refused" }>): string =>
	forGood ? ": the server will never take it for this address" : " and will be tried again";

/** A head is due where the last one is old enough, and every letter with it has come to its end: a mail server that is away gets no heap. */
async function isDue(on: Pick<Transaction, "query">, beforeMs: number): Promise<boolean> {
	const [young] = await on.query(
		`SELECT l.id FROM head_letter l JOIN ledger_anchor a ON a.id = l.anchor_id WHERE l.state = 'waiting' OR a.given_at_ms > $1 LIMIT 1`,
		[beforeMs],
	);
	return young === undefined;
}
