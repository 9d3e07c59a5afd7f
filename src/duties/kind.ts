import type { NewMessage } from "../messages/outbox.js";
import type { Policy } from "../programme/policy.js";
import type { PHClass } from "../science/contact-time.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Guidance, type InstructionText, instructed } from "./instructions.js";
import type { TaskRow } from "./rows.js";

export type { Guidance } from "./instructions.js";

/** A subject whose due instant has come. */
export interface DueSubject {
	readonly kind: string;
	readonly subjectId: string;
	readonly areaId: string;
	readonly dueAtMs: number;
	readonly cycle: number;
}

/** What a task tells: plain values, kept with it, from which every text and page is made. */
export type Brief = Readonly<Record<string, string | number>>;

/** Work that is to be done now. */
export interface Opening {
	readonly subject: DueSubject;
	/** Who looks after it; null or somebody who has left: the supervisor is asked instead, and the task is hers. */
	readonly assigneeId: string | null;
	readonly brief: Brief;
	/** Name of the first text, where it isn't the one that the kind always begins with. */
	readonly text?: string;
	/** In a few words of the trade, for the ledger. */
	readonly why: string;
}

/** Facts have moved on since the due instant was set: not now. */
export interface Postponement {
	readonly subject: DueSubject;
	/** None: nothing is due until another fact comes in. */
	readonly dueAtMs: number | null;
}

/** A fact came in by another way than an answer, and leaves nothing to do. */
export interface Overtaken extends Postponement {
	readonly evidence: Readonly<Record<string, unknown>> & { readonly because: string };
}

/** Work that isn't due yet. */
export interface Coming {
	readonly personId: string;
	readonly subjectId: string;
	readonly dueAtMs: number;
	/** Name of the text that says in a few words what it will be, and what it is filled with; codes, no names. */
	readonly text: string;
	readonly fill: Readonly<Record<string, string | number>>;
}

/** How a person is to be told what to do; numbered steps with measured amounts. */
export interface Instructions {
	readonly why: string;
	readonly steps: readonly string[];
	readonly cautions: readonly string[];
	readonly answerWith: string;
}

/** What a person answered, already read by the grammar. */
export type TaskAnswer =
	| {
			readonly kind: "reading";
			/** A number with a point; a `+` behind it for "this or more". */
			readonly reading: string;
			readonly takenAtMs: number;
			/** Left out: with the kit and the dilution that the task asked for. */
			readonly how?: { readonly kit: string; readonly sampleMl: number; readonly madeUpToL: number };
			/** Of water that was read: what else was measured. */
			readonly water?: { readonly waterTemperatureC?: number | undefined; readonly pHClass?: PHClass | undefined };
	  }
	| { readonly kind: "done" }
	/** Why, in a word of the page on which it was said; kept with the task. */
	| { readonly kind: "cannot"; readonly because?: string };

export type Telling = Pick<NewMessage, "text" | "fill" | "urgent">;

export interface Answered {
	/** Refused answers change nothing; the text says what would be right. */
	readonly accepted: boolean;
	readonly state: "done" | "cannot";
	readonly outcome: Readonly<Record<string, unknown>>;
	/** Told to whoever answered, in the same unit of work. */
	readonly tell: Telling;
	/** What the supervisor of whoever answered should know too; `name` and `code` are filled in. */
	readonly tellSupervisor?: Telling;
	/** Whom else it concerns; `name` and `code` are filled in. */
	readonly tellOthers?: readonly (Telling & { readonly recipientId: string })[];
	/** When the subject is next due; none: not until another fact. */
	readonly nextDueAtMs: number | null;
}

export interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

/**
 * One kind of due work: what it asks of whom and why, and what an answer does.
 * Adding a kind is one file that extends this, and one line in the list of kinds.
 */
export abstract class DutyKind {
	/** Kept in rows: never changed once released. */
	abstract readonly name: string;

	/** Names of the texts that tell of it: first, again, and to the supervisor. */
	abstract readonly texts: { readonly first: string; readonly again: string; readonly supervisor: string };

	/** Looks at subjects whose instant has come, all in one go, and says for each whether it is work now. */
	abstract openings(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<readonly (Opening | Postponement)[]>;

	/**
	 * Looks at subjects whose task is open and of which a fact has changed since, all in one go.
	 * @returns those for which there is nothing left to do: their tasks are withdrawn with the evidence. Left out: none ever is
	 */
	overtaken?(tx: Transaction, due: readonly DueSubject[], moment: Moment): Promise<readonly Overtaken[]>;

	/** @returns what will be due for people who look after it, of which no task is open yet; left out: it isn't foretold */
	coming?(from: Pick<Transaction, "query">, personIds: readonly string[], untilMs: number): Promise<readonly Coming[]>;

	/** @returns what the person is to do, by the names of its texts, from the brief alone */
	abstract guidance(brief: Brief): Guidance;

	/** @returns the same in words, in a language of the instructions, else in English */
	instructions(brief: Brief, language = "en"): Instructions {
		const { why, steps, cautions, answerWith, also } = this.guidance(brief);
		const figures = { code: language === "en" ? "the task's code" : "…", ...brief, ...also };
		const say = (name: InstructionText) => instructed(name, figures, language);
		return { why: say(why), steps: steps.map(say), cautions: cautions.map(say), answerWith: say(answerWith) };
	}

	/**
	 * @returns whether it is for somebody's safety, who waits for this very task: it is told at once and by itself, in quiet hours too where
	 * the programme says so, can't be put off, and what follows when nobody answers comes in hours
	 */
	isUrgent(_brief: Brief): boolean {
		return false;
	}

	/** Takes an answer to an open task: writes what follows from it, and says what is to be told and when it is due again. */
	abstract take(tx: Transaction, task: TaskRow, answer: TaskAnswer, byPersonId: string | null, moment: Moment): Promise<Answered>;
}

export function isOpening(decided: Opening | Postponement): decided is Opening {
	return "brief" in decided;
}
