import type { AreaRow, PersonRow } from "../programme/rows.js";
import { HOUR_MS, MINUTE_MS } from "../time/clock.js";
import { nextContactInstant } from "../time/local.js";
import type { Randomness } from "../time/randomness.js";
import type { DoseRow } from "../water/rows.js";
import type { District } from "./district.js";
import { around, between, drawsFor, happens } from "./draws.js";
import { kitReading } from "./kit-reading.js";
import type { Knowing } from "./making.js";
import type { Habits } from "./people.js";
import { garbledText, replyText } from "./reply-text.js";
import { freeChlorineMgPerL, residualReadingMgPerL, trueDoseMgPerL } from "./residual-checks.js";
import { type Jar, jarTruth, strengthCurve } from "./truth.js";

/** What a message asks a person to do. */
export type Asked =
	| { readonly kind: "strength"; readonly jar: Jar; readonly sampleMl: number; readonly madeUpToL: number }
	| {
			readonly kind: "free chlorine";
			readonly householdId: string;
			readonly jar: Jar;
			readonly dose: Pick<DoseRow, "bleachMl" | "waterL" | "dosedAtMs">;
	  }
	/** A number that a meter shows, or that stands for what was found. */
	| { readonly kind: "figure"; readonly figure: string }
	/** Something is to be done; the answer is this word. */
	| { readonly kind: "deed"; readonly word: string };

/** A message that reached a person's phone. */
export interface ReachedMessage {
	readonly recipientId: string;
	/** The task's code. */
	readonly code: string;
	/** The first message of a task, a reminder, or the one that tells the supervisor. */
	readonly step: "first" | "again" | "supervisor";
	readonly asked: Asked;
}

/** What comes back. */
export interface Reply {
	/** After the instant at which the message reached the phone. */
	readonly afterMs: number;
	/** A text to the program's number, or a supervisor who goes there, looks herself and enters it at the office. */
	readonly via: "text" | "visit";
	readonly body: string;
	/** What was read, as the kit shows it; none for a deed or a text that says nothing. */
	readonly reading: string | null;
}

/** People who answer as people do. */
export interface SimulatedPeople {
	/** @returns whether a message can reach the person's phone at all */
	reaches(personId: string): boolean;
	/**
	 * @param atMs when the message reached the phone, epoch milliseconds
	 * @returns what comes back, the earliest first; nothing where she doesn't answer this message. The same for the same message
	 * and instant.
	 */
	repliesTo(message: ReachedMessage, atMs: number): readonly Reply[];
}

/** Somebody who answers soon does so at the first message, mostly; somebody late waits for the reminder, or for the supervisor. */
const ANSWERS_FIRST = { soon: 0.93, late: 0.3 } as const;
const ANSWERS_AGAIN = { soon: 1, late: 0.75 } as const;
const DELAY_HOURS = { soon: 0.8, late: 7 } as const;
const DELAY_LN_SD = 0.8;
const SUPERVISOR_GOES = 0.85;
/** From the reading to the text. */
const TYPING_MS = 4 * MINUTE_MS;

/** @param district whose hidden truth is read; jars that are made later have a truth too */
export function simulatedPeople(district: District): SimulatedPeople {
	const { start, hidden } = district;
	const persons = new Map(district.people.map((person) => [person.id, person]));
	const areas = new Map(district.areas.map((area) => [area.id, area]));
	const knowing: Knowing = { start, areas, strengthAt: strengthCurve() };

	const visitsOf = (supervisor: PersonRow, message: ReachedMessage, atMs: number): Reply[] => {
		const draws = drawsFor(start, "visit", message.code);
		if (!happens(draws, SUPERVISOR_GOES)) return [];
		const thereMs = inContactTime(supervisor, areas, atMs + between(draws, 3, 26) * HOUR_MS);
		const reading = readingAt(draws, knowing, hidden, message.asked, thereMs);
		return [{ afterMs: thereMs - atMs, via: "visit", body: replyText("as asked", message, reading), reading }];
	};

	const textsOf = (volunteer: PersonRow, habits: Habits, message: ReachedMessage, atMs: number): Reply[] => {
		// Drawn once for a task, so that who has answered the first message doesn't answer the reminder too.
		const draws = drawsFor(start, "answer", volunteer.code, message.code);
		if (habits.answers === "never" || !habits.reachable || answeredStep(draws, habits.answers) !== message.step) return [];
		const sentMs = inContactTime(volunteer, areas, atMs + around(draws, DELAY_HOURS[habits.answers], DELAY_LN_SD) * HOUR_MS);
		const reading = readingAt(draws, knowing, hidden, message.asked, Math.max(atMs, sentMs - TYPING_MS));
		const text = { via: "text", body: replyText(habits.style, message, reading), reading } as const;
		if (!happens(draws, habits.garbledShare)) return [{ afterMs: sentMs - atMs, ...text }];
		const againMs = sentMs + Math.round(between(draws, 10, 40)) * MINUTE_MS;
		return [
			{ afterMs: sentMs - atMs, via: "text", body: garbledText(draws, message.code, reading), reading: null },
			{ afterMs: againMs - atMs, ...text, body: replyText("as asked", message, reading) },
		];
	};

	return {
		reaches: (personId) => hidden.habits[personId]?.reachable ?? true,
		repliesTo: (message, atMs) => {
			const person = persons.get(message.recipientId);
			const habits = hidden.habits[message.recipientId];
			if (!person) return [];
			if (habits) return textsOf(person, habits, message, atMs);
			// A deed that nobody else looks after is hers from the first message on.
			const isHers = message.step === "supervisor" || (message.step === "first" && message.asked.kind === "deed");
			return person.role === "supervisor" && isHers ? visitsOf(person, message, atMs) : [];
		},
	};
}

function answeredStep(draws: Randomness, answers: "soon" | "late"): ReachedMessage["step"] | undefined {
	const [first, again] = [draws.fraction(), draws.fraction()];
	if (first < ANSWERS_FIRST[answers]) return "first";
	return again < ANSWERS_AGAIN[answers] ? "again" : undefined;
}

function inContactTime(person: PersonRow, areas: ReadonlyMap<string, AreaRow>, atMs: number): number {
	const timeZone = areas.get(person.areaId)?.timeZone ?? "UTC";
	return nextContactInstant(Math.round(atMs), { ...person, timeZone });
}

function readingAt(draws: Randomness, knowing: Knowing, hidden: District["hidden"], asked: Asked, atMs: number): string | null {
	if (asked.kind === "deed") return null;
	if (asked.kind === "figure") return asked.figure;
	const { jar } = asked;
	if (asked.kind === "strength") {
		const area = knowing.areas.get(jar.areaId) as AreaRow;
		const strengthGPerL = knowing.strengthAt(jar, area, jarTruth(knowing.start, jar), atMs);
		return kitReading(draws, strengthGPerL, asked);
	}
	const water = hidden.water[asked.householdId] ?? { demandMgPerL: 0, decayPerHour: 0 };
	const hours = Math.max(0, atMs - asked.dose.dosedAtMs) / HOUR_MS;
	return String(residualReadingMgPerL(draws, freeChlorineMgPerL(trueDoseMgPerL(knowing, jar, asked.dose), water, hours)));
}
