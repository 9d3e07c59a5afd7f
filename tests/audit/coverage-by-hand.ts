import { DAY_MS, HOUR_MS } from "../../src/time/clock.js";
import type { Facts } from "./coverage-facts.js";

type Met = true | false | null;

/**
 * Each indicator said once more, in loops over plain values: what counts, what doesn't, what isn't known, by the id of what is counted.
 * The programme's rules are the defaults: 14 days between visits, 0.2 mg/L, 60 days, 3.5 g/L, 21 days.
 */
export function byHand(facts: Facts, fromMs: number, untilMs: number): Record<string, Map<string, { areaId: string; met: Met }>> {
	const within = (atMs: number) => fromMs <= atMs && atMs < untilMs;
	const latest = <T>(rows: readonly T[], at: (row: T) => number) => [...rows].sort((a, b) => at(b) - at(a))[0];
	const figures: Record<string, Map<string, { areaId: string; met: Met }>> = {};
	const say = (indicator: string, id: string, areaId: string, met: Met) => {
		figures[indicator] ??= new Map();
		figures[indicator].set(id, { areaId, met });
	};

	for (const { id, areaId, volunteerId } of facts.households) {
		const later = facts.moves
			.filter((move) => move.householdId === id && move.atMs >= untilMs)
			.sort((a, b) => a.atMs - b.atMs)[0];
		say("households-assigned", id, areaId, (later ? later.fromId : volunteerId) !== null);

		const vessels = facts.containers.filter(({ householdId }) => householdId === id).map((container) => container.id);
		const read = facts.checks.filter(
			({ containerId, checkedAtMs, flags }) =>
				vessels.includes(containerId) &&
				within(checkedAtMs) &&
				!flags?.includes("too early") &&
				!flags?.includes("of earlier water"),
		);
		let inTime = true;
		let intervals = 0;
		for (let beganMs = fromMs; beganMs + 14 * DAY_MS <= untilMs; beganMs += 14 * DAY_MS, intervals++)
			if (!read.some(({ checkedAtMs }) => checkedAtMs >= beganMs && checkedAtMs < beganMs + 14 * DAY_MS)) inTime = false;
		say("households-visited-in-time", id, areaId, vessels.length === 0 || intervals === 0 ? null : inTime);

		const last = latest(read, ({ checkedAtMs }) => checkedAtMs);
		const positive = last ? last.freeChlorineMgPerL >= 0.2 : null;
		const treated = last ? last.doseId !== null || last.hoursSinceDose !== null || last.freeChlorineMgPerL > 0 : null;
		say("water-treated", id, areaId, treated);
		say("residual-positive", id, areaId, positive);
		say(
			"residual-accepted",
			id,
			areaId,
			last ? (last.fitToDrink ?? (last.freeChlorineMgPerL >= 0.2 && last.freeChlorineMgPerL <= 5)) : null,
		);
		say("treated-consistently", id, areaId, read.length < 2 ? null : read.every((one) => one.freeChlorineMgPerL >= 0.2));
		say("effective-coverage", id, areaId, positive ?? false);
	}

	for (const { id, areaId, madeAtMs, state, setAsideUntilMs } of facts.jars) {
		const moves = facts.jarMoves.filter(({ jarId, atMs }) => jarId === id && atMs < untilMs);
		const held =
			moves.length > 0 ? moves.reduce((sum, move) => sum + move.volumeUl, 0) > 0 : state === "in use" || state === "weak";
		if (madeAtMs >= untilMs || setAsideUntilMs !== null || !held) continue;
		say("stock-in-date", id, areaId, untilMs - madeAtMs <= 60 * DAY_MS);
		const test = latest(
			facts.tests.filter(({ batchId, testedAtMs }) => batchId === id && testedAtMs < untilMs),
			({ testedAtMs }) => testedAtMs,
		);
		const isRecent = test !== undefined && untilMs - test.testedAtMs <= 21 * DAY_MS;
		const middle = test && (test.highGPerL === null ? test.lowGPerL : (test.lowGPerL + test.highGPerL) / 2);
		say("stock-in-strength", id, areaId, isRecent ? (middle as number) >= 3.5 : null);
	}

	for (const { id, areaId, inService } of facts.generators) {
		const outages = facts.outages.filter(({ generatorId }) => generatorId === id);
		const isOut = outages.some((out) => out.fromMs < untilMs && (out.untilMs === null || out.untilMs >= untilMs));
		if (isOut || !(inService || outages.some(({ fromMs: outMs }) => outMs >= untilMs))) continue;
		const hasRun = facts.runs.some(({ generatorId, endedAtMs }) => generatorId === id && endedAtMs < untilMs);
		const isLate = facts.tasks.some(
			(task) =>
				task.kind === "care for generator" &&
				task.subjectId === id &&
				task.openedAtMs < untilMs &&
				task.dueAtMs < untilMs - 48 * HOUR_MS &&
				(task.closedAtMs === null || task.closedAtMs >= untilMs),
		);
		say("generators-in-care", id, areaId, hasRun ? !isLate : null);
	}

	for (const { id, areaId, state, dueAtMs, ladderStep } of facts.tasks)
		if (within(dueAtMs) && state !== "withdrawn")
			say("tasks-in-time", id, areaId, state === "open" && ladderStep === 0 ? null : state === "done" && ladderStep === 0);

	for (const { id, recipientId, state, createdAtMs } of facts.messages)
		if (within(createdAtMs) && state !== "merged" && state !== "withdrawn") {
			const areaId = facts.people.find((person) => person.id === recipientId)?.areaId as string;
			say("reminders-failed", id, areaId, state === "failed" ? true : state === "sent" ? false : null);
		}
	return figures;
}
