import { createHash, randomBytes } from "node:crypto";
import ical from "ical-generator";
import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { lineNameOf } from "../messages/text-names.js";
import { textOf } from "../messages/texts.js";
import { currentPolicy } from "../programme/policy.js";
import type { Store } from "../store/store.js";
import { type Clock, DAY_MS, HOUR_MS, MINUTE_MS } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { instantOfLocal, localDateOf, nextContactInstant } from "../time/local.js";
import type { Brief } from "./kind.js";
import type { DutyKinds } from "./kinds.js";
import { type Reachable, reachablePeople } from "./reachable.js";

/** What isn't due within this is left out: it will have moved by then. */
const AHEAD_MS = 60 * DAY_MS;
const LASTS_MS = 30 * MINUTE_MS;
/** How often a calendar may look again. */
const LOOK_AGAIN_S = 3600;

interface Entry {
	readonly id: string;
	readonly startMs: number;
	readonly summary: string;
}

interface OpenTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly brief: string;
	readonly openedAtMs: number;
	readonly assigneeId: string;
	readonly assigneeCode: string;
}

/**
 * A private address for each person, at which a phone's calendar reads her due work: her open tasks, what will be due, and, for a
 * supervisor, what is late with her volunteers. It has codes in it and no names. Whoever has the address can read it; only the hash
 * of its secret is kept, and a new address ends the one before.
 * Source: RFC 5545 (2009); the address as RFC 7986 (2016) section 5.7 lets calendars ask for it again
 */
export class CalendarFeeds {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds: DutyKinds,
	) {}

	/** @returns the secret of the new address, 43 characters, which is told this once */
	issue(personId: string): Promise<string> {
		const token = randomBytes(32).toString("base64url");
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			await tx.affected("UPDATE calendar_feed SET revoked_at_ms = $2 WHERE person_id = $1 AND revoked_at_ms IS NULL", [
				personId,
				nowMs,
			]);
			await tx.affected("INSERT INTO calendar_feed (id, person_id, token_sha256, issued_at_ms) VALUES ($1, $2, $3, $4)", [
				this.ids.next(),
				personId,
				hashOf(token),
				nowMs,
			]);
			await record(tx, this.ids, [entryOf("calendar address issued", personId, nowMs)]);
			return token;
		});
	}

	/** Ends the person's address. @returns whether there was one */
	revoke(personId: string): Promise<boolean> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const revoked = await tx.affected(
				"UPDATE calendar_feed SET revoked_at_ms = $2 WHERE person_id = $1 AND revoked_at_ms IS NULL",
				[personId, nowMs],
			);
			if (revoked > 0) await record(tx, this.ids, [entryOf("calendar address revoked", personId, nowMs)]);
			return revoked > 0;
		});
	}

	/**
	 * @returns the calendar as text/calendar
	 * @throws InputError `unknown-subject` (404) where no such address is valid: it never was, was revoked, or its person has left
	 */
	async read(token: string): Promise<string> {
		const [feed] = await this.store.query<{ personId: string }>(
			"SELECT person_id FROM calendar_feed WHERE token_sha256 = $1 AND revoked_at_ms IS NULL",
			[hashOf(token)],
		);
		const person = feed && (await reachablePeople(this.store, [feed.personId])).get(feed.personId);
		if (!person) throw new InputError("unknown-subject", "There is no calendar at this address.", { status: 404 });
		const nowMs = this.clock.nowMs();
		const { language } = await currentPolicy(this.store);
		const entries = [...(await this.openWork(person, nowMs, language)), ...(await this.comingWork(person, nowMs, language))];
		const calendar = ical({ name: "Jarwatch", prodId: { company: "Jarwatch", product: "due work" }, ttl: LOOK_AGAIN_S });
		for (const { id, startMs, summary } of entries)
			calendar.createEvent({
				id,
				start: new Date(startMs),
				end: new Date(startMs + LASTS_MS),
				stamp: new Date(nowMs),
				summary,
			});
		return calendar.toString();
	}

	/** Open work stands on today, in her hours, until it is done. */
	private async openWork(person: Reachable, nowMs: number, fallback: string): Promise<Entry[]> {
		const tasks = await this.store.query<OpenTask>(
			`SELECT t.id, t.code, t.kind, t.brief, t.opened_at_ms, t.assignee_id, p.code AS assignee_code FROM task t JOIN person p ON p.id = t.assignee_id
			 WHERE t.state = 'open' AND (t.assignee_id = $1 OR (p.supervisor_id = $1 AND t.ladder_step > 0)) ORDER BY t.opened_at_ms, t.id LIMIT 500`,
			[person.id],
		);
		const midnightMs = instantOfLocal(localDateOf(nowMs, person.timeZone), "00:00", person.timeZone);
		return tasks.map((task) => {
			const { texts } = this.kinds.named(task.kind);
			const fill = { ...(JSON.parse(task.brief) as Brief), code: task.code };
			const line = lineOf(lineNameOf(texts.first), fill, person.language, fallback);
			const late = { line, name: task.assigneeCode, hours: Math.round((nowMs - task.openedAtMs) / HOUR_MS) };
			const summary = task.assigneeId === person.id ? line : textOf("digest.late.line", late, person.language, fallback).text;
			const startMs = nextContactInstant(Math.max(midnightMs, task.openedAtMs), person);
			return { id: `task-${task.id}@jarwatch.invalid`, startMs, summary };
		});
	}

	private async comingWork(person: Reachable, nowMs: number, fallback: string): Promise<Entry[]> {
		const coming = await Promise.all(
			this.kinds.all.map(async (kind) => ({
				kind,
				works: (await kind.coming?.(this.store, [person.id], nowMs + AHEAD_MS)) ?? [],
			})),
		);
		return coming.flatMap(({ kind, works }) =>
			works.map(({ subjectId, dueAtMs, text, fill }) => ({
				id: `${hashOf(`${kind.name} ${subjectId}`).slice(0, 32)}@jarwatch.invalid`,
				startMs: nextContactInstant(Math.max(dueAtMs, nowMs), person),
				summary: textOf(text, fill, person.language, fallback).text,
			})),
		);
	}
}

/** The code alone where an older task lacks a figure of the line. */
function lineOf(name: string, fill: Brief & { readonly code: string }, language: string, fallback: string): string {
	try {
		return textOf(name, fill, language, fallback).text;
	} catch {
		return fill.code;
	}
}

function hashOf(text: string): string {
	return createHash("sha256").update(text).digest("hex");
}

function entryOf(action: string, personId: string, atMs: number) {
	return { atMs, actor: "office", action, subjectKind: "person", subjectId: personId, detail: {} };
}
