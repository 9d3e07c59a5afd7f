import { snakeCase } from "../../src/store/columns.js";
import type { Store } from "../../src/store/store.js";
import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { WARM } from "../support/world.js";

// An invented programme of plain values, for figures that are computed once by the program and once by hand.

export interface Facts {
	readonly areas: { id: string; parentId: string | null; code: string; timeZone: string }[];
	readonly people: { id: string; areaId: string }[];
	readonly households: { id: string; code: string; areaId: string; volunteerId: string | null }[];
	readonly containers: { id: string; householdId: string }[];
	readonly checks: {
		id: string;
		containerId: string;
		checkedAtMs: number;
		freeChlorineMgPerL: number;
		hoursSinceDose: number | null;
		doseId: string | null;
		fitToDrink: boolean | null;
		flags: string[] | null;
	}[];
	readonly moves: { id: string; atMs: number; householdId: string; fromId: string | null; toId: string | null }[];
	readonly jars: {
		id: string;
		areaId: string;
		madeAtMs: number;
		state: "in use" | "weak" | "empty" | "discarded";
		setAsideUntilMs: number | null;
	}[];
	readonly jarMoves: { id: string; jarId: string; atMs: number; volumeUl: number }[];
	readonly tests: { id: string; batchId: string; testedAtMs: number; lowGPerL: number; highGPerL: number | null }[];
	readonly generators: { id: string; areaId: string; inService: boolean }[];
	readonly runs: { id: string; generatorId: string; endedAtMs: number }[];
	readonly outages: { id: string; generatorId: string; fromMs: number; untilMs: number | null }[];
	readonly tasks: {
		id: string;
		kind: string;
		subjectId: string;
		areaId: string;
		state: "open" | "done" | "cannot" | "withdrawn";
		dueAtMs: number;
		openedAtMs: number;
		ladderStep: number;
		closedAtMs: number | null;
	}[];
	readonly messages: { id: string; recipientId: string; state: string; createdAtMs: number }[];
}

/** NAT > EAST > EAST-1, EAST-2; NAT > WEST. @param nowMs nothing has happened after it; what happens reaches 100 days back */
export function inventedFacts(start: number, nowMs: number): Facts {
	const draws = new SeededRandomness(start);
	const chance = (share: number) => draws.below(1000) < share * 1000;
	const before = (days: number) => nowMs - 1 - draws.below(days * DAY_MS);
	const many = <T>(count: number, of: (i: number) => T): T[] => Array.from({ length: count }, (_, i) => of(i));
	const timeZone = "Africa/Nairobi";
	const areas = [
		["NAT", null],
		["EAST", "NAT"],
		["WEST", "NAT"],
		["EAST-1", "EAST"],
		["EAST-2", "EAST"],
	].map(([code, parent]) => ({ id: `a-${code}`, parentId: parent ? `a-${parent}` : null, code: code as string, timeZone }));
	const areaId = () => draws.pick(areas).id;
	const people = many(12, (i) => ({ id: `p${i}`, areaId: areaId() }));
	const personOrNobody = () => (chance(0.15) ? null : draws.pick(people).id);
	const households = many(120, (i) => ({
		id: `h${i}`,
		code: `H${String(i).padStart(3, "0")}`,
		areaId: areaId(),
		volunteerId: personOrNobody(),
	}));
	const containers = households.flatMap(({ id }) =>
		chance(0.1) ? [] : many(chance(0.3) ? 2 : 1, (i) => ({ id: `c${id}-${i}`, householdId: id })),
	);
	const checks = containers.flatMap(({ id }) =>
		many(draws.below(14), (i) => ({
			...{ id: `r${id}-${i}`, containerId: id, checkedAtMs: before(100) },
			freeChlorineMgPerL: draws.pick([0, 0, 0.1, 0.2, 0.3, 0.5, 0.8, 1, 2, 5, 5.5]),
			hoursSinceDose: chance(0.3) ? draws.below(30) : null,
			doseId: chance(0.2) ? "invented" : null,
			fitToDrink: chance(0.5) ? null : chance(0.6),
			flags: draws.pick([null, [], ["too early"], ["of earlier water"], ["no dose known"]]),
		})),
	);
	const held = new Map(households.map(({ id, volunteerId }) => [id, volunteerId]));
	// Back in time: what a household has now is where its last move brought it.
	const moves = many(60, (i) => ({ atMs: before(100), householdId: draws.pick(households).id, i }))
		.sort((a, b) => b.atMs - a.atMs)
		.map(({ atMs, householdId }, i) => {
			const [toId, fromId] = [held.get(householdId) ?? null, personOrNobody()];
			held.set(householdId, fromId);
			return { id: `l${String(999 - i).padStart(3, "0")}`, atMs, householdId, fromId, toId };
		});
	const jars = many(50, (i) => ({
		...{ id: `j${i}`, areaId: areaId(), madeAtMs: before(100) },
		state: draws.pick(["in use", "in use", "weak", "empty", "discarded"] as const),
		setAsideUntilMs: chance(0.1) ? nowMs + DAY_MS : null,
	}));
	const jarMoves = jars.flatMap(({ id, madeAtMs }) =>
		chance(0.3)
			? []
			: [
					{ id: `m${id}-0`, jarId: id, atMs: madeAtMs, volumeUl: 5_000_000 },
					...(chance(0.5)
						? [{ id: `m${id}-1`, jarId: id, atMs: madeAtMs + draws.below(nowMs - madeAtMs), volumeUl: -5_000_000 }]
						: []),
				],
	);
	const tests = jars.flatMap(({ id, madeAtMs }) =>
		many(draws.below(4), (i) => ({
			...{ id: `t${id}-${i}`, batchId: id, testedAtMs: madeAtMs + draws.below(nowMs - madeAtMs) },
			lowGPerL: draws.pick([1, 2, 3, 3.4, 3.5]),
			highGPerL: draws.pick([3.6, 4, 5, null]),
		})),
	);
	const generators = many(25, (i) => ({ id: `g${i}`, areaId: areaId(), inService: chance(0.8) }));
	const runs = generators.flatMap(({ id }) =>
		many(draws.below(3), (i) => ({ id: `u${id}-${i}`, generatorId: id, endedAtMs: before(100) })),
	);
	const outages = generators.flatMap(({ id, inService }): Facts["outages"] => {
		const fromMs = before(100);
		if (!inService) return [{ id: `o${id}`, generatorId: id, fromMs, untilMs: null }];
		return chance(0.3) ? [{ id: `o${id}`, generatorId: id, fromMs, untilMs: fromMs + draws.below(nowMs - fromMs) }] : [];
	});
	const tasks = many(200, (i) => {
		const [openedAtMs, state] = [before(100), draws.pick(["open", "done", "done", "cannot", "withdrawn"] as const)];
		return {
			...{
				id: `k${i}`,
				kind: i < 40 ? "care for generator" : "check water",
				subjectId: i < 40 ? draws.pick(generators).id : `s${i}`,
			},
			...{ areaId: areaId(), state, openedAtMs, dueAtMs: openedAtMs - draws.below(HOUR_MS), ladderStep: draws.below(3) },
			closedAtMs: state === "open" ? null : openedAtMs + draws.below(nowMs - openedAtMs),
		};
	}).filter(({ kind, subjectId, state }, i, all) => {
		// One open task of a kind and subject, as the table has it.
		const first = all.findIndex((other) => other.kind === kind && other.subjectId === subjectId && other.state === "open");
		return state !== "open" || first === i;
	});
	const messages = many(200, (i) => ({
		...{ id: `n${i}`, recipientId: draws.pick(people).id, createdAtMs: before(100) },
		state: draws.pick(["held", "merged", "waiting", "claimed", "sent", "sent", "sent", "failed", "withdrawn"]),
	}));
	return {
		areas,
		people,
		households,
		containers,
		checks,
		moves,
		jars,
		jarMoves,
		tests,
		generators,
		runs,
		outages,
		tasks,
		messages,
	};
}

/** Puts them on file as they would stand there. */
export async function putFacts(store: Store, facts: Facts): Promise<void> {
	const place = { latitudeDeg: 0, longitudeDeg: 0 };
	const person = {
		role: "volunteer",
		name: "Invented",
		language: "en",
		workingDays: [1, 2, 3, 4, 5],
		quietFrom: "20:00",
		quietUntil: "06:00",
		channels: [],
		active: true,
	};
	const jar = {
		volumeL: 5,
		madeStrengthGPerL: 5,
		madeStrengthLnSd: 0.15,
		saltGPerL: 30,
		phKnowledge: "not measured",
		wall: "opaque",
		exposure: "indoors",
		litAreaM2: 0,
	};
	const generator = {
		name: "Invented",
		ratedCurrentA: 10,
		cellsInSeries: 1,
		currentEfficiency: 0.6,
		batchVolumeL: 5,
		saltGPerL: 30,
	};
	const tables: [string, object[]][] = [
		["area", facts.areas.map((row) => ({ ...row, name: `${row.code} (invented)`, ...place, altitudeM: 0, climate: WARM }))],
		["person", facts.people.map((row) => ({ ...row, code: row.id, ...person }))],
		["household", facts.households.map((row) => ({ ...row, persons: 5, waterSource: "well", turbidity: "clear" }))],
		["container", facts.containers.map((row) => ({ ...row, code: row.id, volumeL: 20, kind: "tap" }))],
		["residual_check", facts.checks],
		[
			"ledger_entry",
			facts.moves.map(({ id, atMs, householdId, fromId, toId }) => ({
				...{ id, atMs, actor: "office", action: "household assigned", subjectKind: "household", subjectId: householdId },
				detail: { fromId, toId },
			})),
		],
		["generator", facts.generators.map((row) => ({ ...row, code: row.id, ...generator }))],
		["batch", facts.jars.map((row) => ({ ...row, code: row.id, ...jar }))],
		["stock_move", facts.jarMoves.map((row) => ({ ...row, kind: row.volumeUl > 0 ? "made" : "used", recordedAtMs: row.atMs }))],
		[
			"strength_test",
			facts.tests.map((row) => ({
				...row,
				recordedAtMs: row.testedAtMs,
				kit: "comparator 0-5",
				sampleMl: 1,
				madeUpToL: 1,
				reading: "3",
				flags: [],
			})),
		],
		[
			"generator_run",
			facts.runs.map((row) => ({
				...row,
				code: row.id,
				startedAtMs: row.endedAtMs - HOUR_MS,
				recordedAtMs: row.endedAtMs,
				saltG: 150,
				waterL: 5,
				powerSource: "mains",
			})),
		],
		["generator_outage", facts.outages.map((row) => ({ ...row, reason: "invented", recordedAtMs: row.fromMs }))],
		["task", facts.tasks.map((row, i) => ({ ...row, code: `K${i}`, cycle: i, brief: {} }))],
		[
			"message",
			facts.messages.map((row) => ({
				...row,
				idempotencyKey: row.id,
				text: "invented",
				fill: {},
				urgent: false,
				claim: 0,
				tries: 0,
			})),
		],
	];
	await store.work.run(async (tx) => {
		for (const [table, rows] of tables) {
			const names = Object.keys(rows[0] ?? {});
			const lists = rows.map((row) => names.map((name) => cellOf((row as Record<string, unknown>)[name])));
			if (names.length > 0) await tx.insert(table, names.map(snakeCase), lists);
		}
	});
}

const cellOf = (value: unknown): unknown => (typeof value === "object" && value !== null ? JSON.stringify(value) : value);
