import { record } from "../ledger/ledger.js";
import { digestTextFor, firstPack, lastOfEachTask, type Member } from "../messages/digest.js";
import { type NewMessage, putIntoOutbox, withdrawMessages } from "../messages/outbox.js";
import type { Wake } from "../messages/wake.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import { among, placeholders, valuesOf } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { dayAfter, instantOfLocal, localDateOf, nextContactInstant } from "../time/local.js";
import { notBeforeMs, type Reachable, reachablePeople } from "./reachable.js";
import { countLetGo, type MonthSpent, segmentsOfDay, segmentsOfMonth, spentSince } from "./segments-spent.js";

interface Held extends Member {
	readonly id: string;
	readonly recipientId: string;
	readonly channels: string | null;
	readonly heldBecause: string | null;
	/** It was tried before it was held again: on this channel, with so many failures. */
	readonly channel: string | null;
	readonly tries: number;
	/** Since when it could have gone before it was held again; none: it was always held. */
	readonly waitsSinceMs: number | null;
}

/** Why a message waits for another day. */
type Because = "day" | "month";

/** What becomes of one page of held messages. */
interface Release {
	readonly alone: { id: string; segments: number }[];
	readonly digests: NewMessage[];
	/** Who is told of by whom. */
	readonly merged: { id: string; digestId: string }[];
	readonly back: { ids: string[]; isNew: boolean; person: Reachable; untilMs: number; because: Because | null }[];
}

/**
 * Lets messages about work go when their person may be written to: all that has come together for her goes as one text with a
 * short line a task, or as several where it would be too long. The rows of the tasks stay, each with the message that tells of it.
 * What is beyond the programme's cap on SMS waits for the next day.
 */
export class Digests {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly wake: Wake,
		private readonly peopleAPage = 100,
	) {}

	/** @returns how many messages were let go */
	async release(): Promise<number> {
		const nowMs = this.clock.nowMs();
		const due = await this.store.query<{ id: string }>(
			"SELECT DISTINCT recipient_id AS id FROM message WHERE held_until_ms <= $1 ORDER BY recipient_id",
			[nowMs],
		);
		if (due.length === 0) return 0;
		const policy = await currentPolicy(this.store);
		// The sum of a month goes over every message of it: once for all pages, which carry it on.
		const month = policy.messages.segmentsPerMonth === null ? null : await segmentsOfMonth(this.store, nowMs);
		let released = 0;
		for (let from = 0; from < due.length; from += this.peopleAPage) {
			const people = due.slice(from, from + this.peopleAPage).map(({ id }) => id);
			released += await this.store.work.run((tx) => this.page(tx, people, { nowMs, policy, month }));
		}
		return released;
	}

	private async page(
		tx: Transaction,
		ids: readonly string[],
		{ nowMs, policy, month }: { nowMs: number; policy: Policy; month: MonthSpent | null },
	): Promise<number> {
		// Two schedulers would each make a digest of a part: whoever comes second waits, and finds nothing left.
		if (tx.kind === "postgres")
			await tx.query(`SELECT id FROM person WHERE id IN (${placeholders(ids.length)}) ORDER BY id FOR NO KEY UPDATE`, ids);
		const rows = await heldOf(tx, ids, nowMs);
		const held = rows.map((row): Held => ({ ...row, fill: JSON.parse(row.fill) as Member["fill"] }));
		const people = await reachablePeople(tx, ids);
		const spent = await segmentsOfDay(tx, [...people.values()], nowMs);
		const { segmentsPerMonth } = policy.messages;
		const leftOfMonth =
			segmentsPerMonth === null || month === null ? Number.POSITIVE_INFINITY : segmentsPerMonth - (await spentSince(tx, month));
		const left = { month: leftOfMonth };
		const release: Release = { alone: [], digests: [], merged: [], back: [] };
		for (const person of people.values())
			this.decide(
				release,
				held.filter(({ recipientId }) => recipientId === person.id),
				{ person, policy, nowMs, spentToday: spent.get(person.id) ?? 0, left },
			);
		if (month) await countLetGo(tx, month, leftOfMonth - left.month);
		await this.write(tx, release, nowMs);
		await withdrawMessages(
			tx,
			"recipient_id",
			ids.filter((id) => !people.has(id)),
			nowMs,
			"state = 'held'",
		);
		return release.alone.length + release.digests.length;
	}

	private decide(
		release: Release,
		held: readonly Held[],
		at: { person: Reachable; policy: Policy; nowMs: number; spentToday: number; left: { month: number } },
	): void {
		const { person, policy, nowMs, left } = at;
		const { together, longestSegments, segmentsPerPersonDay } = policy.messages;
		let spent = at.spentToday;
		// The scheduler may have stood still, or a holiday been declared, since they were held.
		const allowedMs = notBeforeMs(person, nowMs);
		if (allowedMs > nowMs && held.length > 0)
			return void release.back.push({ ids: held.map(({ id }) => id), isNew: false, person, untilMs: allowedMs, because: null });
		for (const group of toldTogether(held)) {
			const heading = digestTextFor(group[0] as Held);
			const waiting = lastOfEachTask(group);
			while (waiting.length > 0) {
				const most = Math.min(longestSegments, Math.max(1, segmentsPerPersonDay - spent));
				const of = together ? waiting : waiting.slice(0, 1);
				const { pack, segments } = packOf(heading, of, most, person.language, policy.language);
				// The first of a day always goes: a text that is longer than a day's segments would never go.
				const because =
					segments > left.month ? "month" : spent > 0 && spent + segments > segmentsPerPersonDay ? "day" : undefined;
				if (because) {
					release.back.push(backOf(person, sameTasks(group, waiting), because, nowMs));
					break;
				}
				spent += segments;
				left.month -= segments;
				waiting.splice(0, pack.length);
				this.go(release, pack, group, { heading, segments, nowMs });
			}
		}
	}

	private go(
		release: Release,
		pack: readonly Held[],
		group: readonly Held[],
		{ heading, segments, nowMs }: { heading: NewMessage["text"]; segments: number; nowMs: number },
	): void {
		const first = pack[0] as Held;
		const isAlone = pack.length === 1;
		const id = isAlone ? first.id : this.ids.next();
		const told = sameTasks(group, pack).filter((message) => message.id !== id);
		release.merged.push(...told.map((message) => ({ id: message.id, digestId: id })));
		if (isAlone) return void release.alone.push({ id, segments });
		// Tries go on being counted, or a channel that is away would never be given up.
		const tried = told.find(({ channel }) => channel !== null);
		release.digests.push({
			id,
			tries: tried?.tries ?? 0,
			channel: tried?.channel ?? null,
			waitsSinceMs: told.reduce((first, { waitsSinceMs }) => Math.min(first, waitsSinceMs ?? nowMs), nowMs),
			// One that told of it before was undone, and had the first message's key.
			idempotencyKey: `digest.${first.waitsSinceMs === null ? first.id : id}`,
			taskId: null,
			recipientId: first.recipientId,
			text: heading,
			fill: {},
			urgent: false,
			createdAtMs: nowMs,
			notBeforeMs: nowMs,
			channels: first.channels === null ? null : (JSON.parse(first.channels) as string[]),
			segments,
		});
	}

	private async write(tx: Transaction, { alone, digests, merged, back }: Release, nowMs: number): Promise<void> {
		for (let from = 0; from < alone.length; from += 500) {
			const { text, parameters } = valuesOf(alone.slice(from, from + 500).map(({ id, segments }) => [id, segments, nowMs]));
			await tx.affected(
				`UPDATE message SET state = 'waiting', held_until_ms = NULL, ready_at_ms = CAST(v.column3 AS bigint),
				        waits_since_ms = COALESCE(message.waits_since_ms, CAST(v.column3 AS bigint)), next_try_at_ms = CAST(v.column3 AS bigint), segments = CAST(v.column2 AS integer)
				 FROM (VALUES ${text}) AS v WHERE message.id = v.column1 AND message.state = 'held'`,
				parameters,
			);
		}
		await putIntoOutbox(tx, digests);
		for (let from = 0; from < merged.length; from += 500) {
			const { text, parameters } = valuesOf(merged.slice(from, from + 500).map(({ id, digestId }) => [id, digestId]));
			await tx.affected(
				`UPDATE message SET state = 'merged', held_until_ms = NULL, digest_id = v.column2
				 FROM (VALUES ${text}) AS v WHERE message.id = v.column1 AND message.state = 'held'`,
				parameters,
			);
		}
		for (const { ids, untilMs, because } of back)
			await tx.affected(
				`UPDATE message SET held_until_ms = $1, held_because = $2 WHERE state = 'held' AND id IN (${placeholders(ids.length, 3)})`,
				[untilMs, because, ...ids],
			);
		await record(
			tx,
			this.ids,
			back
				.filter(({ isNew }) => isNew)
				.map(({ person, ids, untilMs, because }) => ({
					atMs: nowMs,
					actor: "digest",
					action: "messages held back",
					subjectKind: "person",
					subjectId: person.id,
					detail: { messages: ids.length, because: `the segments of the ${because} are used up`, untilMs },
				})),
		);
		this.wake(tx, [...alone.map(({ id }) => id), ...digests.map(({ id }) => id)]);
	}
}

/** Work of her own and what is late with others go apart, and so does what is to take another way. */
function toldTogether(held: readonly Held[]): readonly Held[][] {
	const groups = new Map<string, Held[]>();
	for (const message of held) {
		const key = `${digestTextFor(message)} ${message.channels ?? ""}`;
		const group = groups.get(key);
		if (group) group.push(message);
		else groups.set(key, [message]);
	}
	return [...groups.values()];
}

/** A task that was told of before it went is told of once: by its last message. */
function sameTasks(group: readonly Held[], last: readonly Held[]): Held[] {
	const tasks = new Set(last.map(({ taskId }) => taskId));
	return group.filter(({ taskId }) => tasks.has(taskId));
}

/** A message that can't be told goes by itself and fails visibly when it is sent, instead of holding up all others. */
function packOf(...of: Parameters<typeof firstPack<Held>>): ReturnType<typeof firstPack<Held>> {
	try {
		return firstPack(...of);
	} catch {
		return { pack: of[1].slice(0, 1), segments: 1 };
	}
}

function backOf(person: Reachable, waiting: readonly Held[], because: Because, nowMs: number): Release["back"][number] {
	const tomorrow = instantOfLocal(dayAfter(localDateOf(nowMs, person.timeZone)), "00:00", person.timeZone);
	return {
		ids: waiting.map(({ id }) => id),
		isNew: waiting.some(({ heldBecause }) => heldBecause !== because),
		person,
		untilMs: nextContactInstant(tomorrow, person),
		because,
	};
}

/**
 * Those of some people that are to be let go. PostgreSQL is told to look at one person after another: by itself it may take every message
 * that is held for each page of people, once its statistics tell of fewer than there are.
 */
function heldOf(
	tx: Transaction,
	personIds: readonly string[],
	nowMs: number,
): Promise<(Omit<Held, "fill"> & { fill: string })[]> {
	const ofOne = "FROM message WHERE held_until_ms <= $1 AND recipient_id";
	const from =
		tx.kind === "postgres"
			? `FROM unnest($2::text[]) AS person (id) CROSS JOIN LATERAL (SELECT * ${ofOne} = person.id OFFSET 0) AS message`
			: `${ofOne} ${among("sqlite", "$2")}`;
	return tx.query(
		`SELECT message.id, recipient_id, task_id, text, fill, channels, held_because, channel, tries, waits_since_ms ${from}
		 ORDER BY created_at_ms, message.id`,
		[nowMs, tx.kind === "postgres" ? personIds : JSON.stringify(personIds)],
	);
}
