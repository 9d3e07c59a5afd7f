import { migrations } from "../../../migrations/index.js";
import { entities } from "../../../src/entities.js";
import { Store } from "../../../src/store/store.js";
import { DAY_MS, MINUTE_MS } from "../../../src/time/clock.js";
import { SeededRandomness } from "../../../src/time/randomness.js";
import { CountingPeer } from "../../support/counting-peer.js";
import { putJars } from "../../support/due-jars.js";
import { TEST_KEYS } from "../../support/stores.js";
import { START_MS } from "../../support/world.js";
import { type Arrangement, type Ground, groundOf } from "./arrangement.js";
import { type Asked, answerTo, type Fact, newJar, usedSome } from "./facts.js";
import { Life } from "./life.js";
import { Sends } from "./sends.js";
import { allThatIsWrong } from "./verdict.js";

export interface Killing {
	readonly kills: number;
	readonly sendsAtOnce: number;
	readonly seed: number;
	/** No kill after so long, however many are left; left out: however long it takes. */
	readonly longestMs?: number;
	/** Names of the points at which processes end themselves, one after the other; left out: they are killed at any time. */
	readonly points?: readonly string[];
}

/** So long is a claim's lease; from one kill to the next the clock moves on by more. */
const LEASE_MS = 2 * MINUTE_MS;
const STEP_MS = 10 * MINUTE_MS;
/** Jars that become due from one kill to the next, answers that are texted, jars that are put on file. */
const JARS_A_STEP = 8;
const ANSWERS_A_STEP = 6;
const ANSWER_AFTER_MS = 5;
/** The longest that a process may live before it is killed. */
const LONGEST_LIFE_MS = 300;
const NOTHING_MORE_MS = 3000;
const MOST_SENDS_A_LIFE = 20;
const LATEST_DEATH_MS = 60_000;

/** What was found when nothing was left to do. */
export interface Found {
	readonly kills: number;
	readonly facts: number;
	readonly messages: number;
	readonly hidden: number;
	readonly mostHidden: number;
	readonly extra: number;
	/** Everything that is not as it should be; empty: nothing was lost, doubled or half done. */
	readonly wrong: object;
	/** From the first process to the last kill. */
	readonly seconds: number;
}

/** @returns how many outcomes one kill may hide: with several sends at once urgent ones have a quarter more */
export const outcomesAtOnce = (sendsAtOnce: number) =>
	sendsAtOnce === 1 ? 1 : sendsAtOnce + Math.max(1, Math.round(sendsAtOnce / 4));

/** Kills processes of the program one after the other while they work, and looks what became of their work. */
export async function killedAgainAndAgain(arrangement: Arrangement, killing: Killing): Promise<Found> {
	const ground = await groundOf(arrangement);
	const peer = new CountingPeer(ANSWER_AFTER_MS);
	const harness = new Harness(arrangement, killing, ground, peer, await peer.start());
	try {
		return await harness.run();
	} finally {
		harness.discard();
		await peer.stop();
		await ground.remove();
	}
}

/** @returns the names of the points that one process passes while it does all of its work */
export async function pointsPassed(arrangement: Arrangement): Promise<string[]> {
	const ground = await groundOf(arrangement);
	const peer = new CountingPeer(ANSWER_AFTER_MS);
	const killing = { kills: 4, sendsAtOnce: 1, seed: 1, points: [""] };
	const harness = new Harness(arrangement, killing, ground, peer, await peer.start());
	try {
		return await harness.pointsPassed();
	} finally {
		harness.discard();
		await peer.stop();
		await ground.remove();
	}
}

class Harness {
	private readonly chance: SeededRandomness;
	private readonly sends = new Sends();
	private nowMs = START_MS;
	private lives: Life[] = [];
	private standby: Life | undefined;
	private numbered = 0;
	private started = 0;
	private onKept: () => void = () => undefined;
	private accounted = 0;
	/** Told, and said to be kept; and what was told to a process that was killed before it said so. */
	private readonly kept = new Map<string, string | undefined>();
	private readonly unsaid = new Map<string, Fact>();
	private readonly told = new Map<string, Fact>();

	constructor(
		private readonly arrangement: Arrangement,
		private readonly killing: Killing,
		private readonly ground: Ground,
		private readonly peer: CountingPeer,
		private readonly url: string,
	) {
		this.chance = new SeededRandomness(killing.seed);
	}

	async run(): Promise<Found> {
		await this.prepare();
		const beganMs = performance.now();
		for (let i = 0; i < this.arrangement.copies; i++) this.lives.push(await this.begun());
		const untilMs = beganMs + (this.killing.longestMs ?? Number.POSITIVE_INFINITY);
		let kills = 0;
		for (; kills < this.killing.kills && performance.now() < untilMs; kills++) await this.round();
		const seconds = Math.round((performance.now() - beganMs) / 1000);
		if (kills < this.killing.kills) await this.leaveOutTheRest();
		await this.untilNothingIsLeft();
		for (const life of this.lives) await life.kill();
		const { told, kept, sends, peer, nowMs } = this;
		const wrong = await allThatIsWrong({ look: this.ground.look, open: () => this.opened(), told, kept, sends, peer, nowMs });
		const [messages] = await this.ground.look<{ n: number }>("SELECT count(*) AS n FROM message");
		const { hidden, mostHidden, extra } = this.sends;
		return {
			kills,
			facts: this.told.size,
			messages: Number(messages?.n),
			...{ hidden, mostHidden, extra, wrong },
			seconds,
		};
	}

	async pointsPassed(): Promise<string[]> {
		await this.prepare();
		this.lives.push(await this.begun());
		for (let step = 0; step < this.killing.kills; step++) {
			for (const fact of await this.newFacts()) this.tell(fact);
			await this.untilNothingIsLeft();
		}
		return [...this.lives[0]!.passed].sort();
	}

	discard(): void {
		for (const life of this.lives) life.discard();
		this.standby?.discard();
	}

	private async prepare(): Promise<void> {
		const store = await this.opened();
		const { kills } = this.killing;
		await putJars(store, kills * JARS_A_STEP, (jar) => START_MS + Math.floor(jar / JARS_A_STEP) * STEP_MS);
		await store.work.run((tx) => tx.affected("UPDATE batch SET made_at_ms = $1", [START_MS - 4 * DAY_MS]));
		await store.close();
	}

	private opened(): Promise<Store> {
		return Store.open({ location: this.ground.location, entities, migrations, keys: TEST_KEYS });
	}

	private newLife(): Life {
		const { location, redisUrl } = this.ground;
		const { sendsAtOnce, points } = this.killing;
		const dieAt = points?.[this.started++];
		return new Life(
			{
				location,
				url: this.url,
				...(redisUrl && { redisUrl }),
				sendsAtOnce,
				leaseMs: LEASE_MS,
				...(dieAt !== undefined && { dieAt }),
			},
			(key, refusedWith) => {
				this.kept.set(key, refusedWith);
				this.onKept();
			},
		);
	}

	/** One is always being loaded while others work: most of a start is over when it is needed. */
	private async begun(): Promise<Life> {
		const life = this.standby ?? this.newLife();
		this.standby = this.newLife();
		await life.begin(this.nowMs);
		return life;
	}

	private async round(): Promise<void> {
		for (const fact of await this.newFacts()) this.tell(fact);
		const at = this.chance.below(this.lives.length);
		const victim = this.lives[at]!;
		if (this.killing.points) await victim.dies(LATEST_DEATH_MS);
		else {
			await this.someTime();
			await victim.kill();
		}
		for (const [key, fact] of victim.inDoubt) this.unsaid.set(key, fact);
		this.lives.splice(at, 1);
		await this.moveOn();
		this.lives.push(await this.begun());
	}

	/**
	 * Kills fall between any two sends, within one, between facts that are taken, and into what goes on beside them. How far a process has
	 * come by then is counted by what it has done: how long that takes is the machine's affair.
	 */
	private async someTime(): Promise<void> {
		const { chance } = this;
		const kind = chance.fraction();
		const few = () => new Promise((resolve) => setTimeout(resolve, chance.fraction() * ANSWER_AFTER_MS * 4));
		if (kind < 0.6) await this.soon(this.peer.received(this.peer.keys.length + 1 + chance.below(MOST_SENDS_A_LIFE)));
		else if (kind < 0.8) await this.soon(this.keptMore(1 + chance.below(ANSWERS_A_STEP)));
		else await new Promise((resolve) => setTimeout(resolve, chance.fraction() * LONGEST_LIFE_MS));
		await few();
	}

	private keptMore(count: number): Promise<void> {
		const until = this.kept.size + count;
		return new Promise((resolve) => {
			this.onKept = () => {
				if (this.kept.size >= until) resolve();
			};
		});
	}

	/** What never comes because too little is left to do isn't waited for. */
	private async soon(what: Promise<void>): Promise<void> {
		let timer: NodeJS.Timeout | undefined;
		const late = new Promise<void>((resolve) => {
			timer = setTimeout(resolve, NOTHING_MORE_MS);
		});
		await Promise.race([what, late]);
		clearTimeout(timer);
	}

	private async moveOn(): Promise<void> {
		this.nowMs += STEP_MS;
		await Promise.all(this.lives.map((life) => life.rest()));
		await this.account();
		await Promise.all(this.lives.map((life) => life.moveTo(this.nowMs)));
	}

	/** While nothing is on its way. */
	private async account(): Promise<void> {
		const came = this.peer.keys.slice(this.accounted);
		this.accounted = this.peer.keys.length;
		const listed = [...new Set(came)].map((id) => `'${id}'`).join(", ") || "''";
		const onRecord = await this.ground.look<{ id: string }>(`SELECT id FROM message WHERE state = 'sent' AND id IN (${listed})`);
		this.sends.add({ came, onRecord: new Set(onRecord.map(({ id }) => id)) });
	}

	private tell(fact: Fact): void {
		this.told.set(fact.key, fact);
		this.unsaid.delete(fact.key);
		this.lives[this.chance.below(this.lives.length)]!.tell(fact);
	}

	private async newFacts(): Promise<Fact[]> {
		// Whoever hears nothing hands it in again; of what isn't known by a name of its own nobody may say it twice.
		const again = [...this.unsaid.values()].filter(({ kind }) => kind !== "used");
		const asked = await this.ground.look<Asked>(
			`SELECT id, code, kind, assignee_id FROM task WHERE state = 'open' ORDER BY opened_at_ms, id LIMIT ${ANSWERS_A_STEP * 3}`,
		);
		const answers = asked
			.map(answerTo)
			.filter(({ key }) => !this.told.has(key))
			.slice(0, ANSWERS_A_STEP);
		const number = this.numbered++;
		const jar = `J${this.chance.below(this.killing.kills * JARS_A_STEP)}`;
		return [...again, ...answers, newJar(number, this.nowMs, this.chance), usedSome(number, jar)];
	}

	/** Jars for the kills that time was too short for never become due. */
	private async leaveOutTheRest(): Promise<void> {
		const store = await this.opened();
		await store.work.run((tx) =>
			tx.affected("UPDATE due SET due_at_ms = $1 WHERE due_at_ms > $2 AND cycle = 1 AND subject_id LIKE 'jar%'", [
				this.nowMs + 3650 * DAY_MS,
				this.nowMs,
			]),
		);
		await store.close();
	}

	/** The last processes are let alone until nothing is left, leases of the killed included. */
	private async untilNothingIsLeft(): Promise<void> {
		for (;;) {
			for (const fact of this.unsaid.values()) if (fact.kind !== "used") this.tell(fact);
			const [left] = await this.ground.look<{ n: number }>(
				`SELECT (SELECT count(*) FROM message WHERE state IN ('waiting', 'claimed', 'held')) + (SELECT count(*) FROM due WHERE due_at_ms <= ${this.nowMs}) AS n`,
			);
			const doubtful = this.lives.reduce((sum, { inDoubt }) => sum + inDoubt.size, 0);
			if (Number(left?.n) + doubtful === 0) break;
			await new Promise((resolve) => setTimeout(resolve, 100));
			await this.moveOn();
		}
	}
}
