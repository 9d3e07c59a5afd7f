import { isDeepStrictEqual } from "node:util";
import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { isDigest } from "../../messages/digest.js";
import { asksForWork } from "../../messages/text-names.js";
import { type Policy, policyFrom, policySchema } from "../../programme/policy.js";
import { doseFor } from "../../science/dose.js";
import { dilutionFactor } from "../../science/reading.js";
import { allReckonedAnew } from "../../stock/due-work.js";
import { kitNamed } from "../../stock/kits.js";
import { changesForecasts, forecastAnew } from "../../stock/stale.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";

const programme = z.strictObject({ name: z.string().trim().min(1).max(200), rules: policySchema });

export const programmeSchema = programme.meta({ id: "Programme" });
export const changedProgrammeSchema = programme.meta({ id: "ChangedProgramme" });

/** The programme's rules as they hold, and the version of them. */
export interface Programme {
	readonly name: string;
	readonly rules: Policy;
	/** 0: nobody has set any; the defaults hold. */
	readonly changedAtMs: number;
}

/** Reads and changes the programme's own rules; a change that was made of an older version is refused. */
export class ProgrammeRules {
	/** @param kinds names of all kinds of work, for which there may be ladders of their own; left out: any name is taken */
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly kinds?: readonly string[],
	) {}

	current(): Promise<Programme> {
		return programmeIn(this.store);
	}

	/**
	 * @param of the version that the change was made of; "any" where it doesn't matter
	 * @throws InputError `conflict` (412) where the rules have been changed since
	 */
	change(name: string, rules: Policy, of: number | "any"): Promise<Programme> {
		return this.store.work.run(async (tx) => {
			const before = await programmeIn(tx);
			if (of !== "any" && of !== before.changedAtMs) throw changedSince();
			refuseUnusable(rules);
			if (this.kinds) refuseUnknownKinds(rules, this.kinds);
			refuseUnknownTexts(rules);
			// Two changes in one millisecond, or a clock that was set back, mustn't share a version.
			const changedAtMs = Math.max(this.clock.nowMs(), before.changedAtMs + 1);
			const written = await tx.affected(
				`INSERT INTO programme (id, name, policy, changed_at_ms) VALUES ('programme', $1, $2, $3)
				 ON CONFLICT (id) DO UPDATE SET name = excluded.name, policy = excluded.policy, changed_at_ms = excluded.changed_at_ms
				 WHERE programme.changed_at_ms = $4`,
				[name, JSON.stringify(rules), changedAtMs, before.changedAtMs],
			);
			if (written === 0) throw changedSince();
			if (changesForecasts(before.rules, rules)) {
				const oldestUseDays = Math.max(before.rules.oldestUseDays, rules.oldestUseDays);
				await forecastAnew(tx, this.ids, { because: "rules changed", nowMs: changedAtMs, oldestUseDays });
			}
			if (!isDeepStrictEqual(needOf(before.rules), needOf(rules))) await allReckonedAnew(tx, changedAtMs);
			await record(tx, this.ids, [
				{
					atMs: changedAtMs,
					actor: "office",
					action: "rules changed",
					subjectKind: "programme",
					subjectId: "programme",
					detail: { before: before.rules, after: rules },
				},
			]);
			return { name, rules, changedAtMs };
		});
	}
}

/** What stocks and production plans are reckoned by. */
const needOf = ({ water, stock, generators, doseMgPerL, usableLimitGPerL }: Policy) => ({
	water,
	stock,
	generators,
	doseMgPerL,
	usableLimitGPerL,
});

async function programmeIn(from: Pick<Transaction, "query">): Promise<Programme> {
	const [row] = await from.query<{ name: string; policy: string; changedAtMs: number }>(
		"SELECT name, policy, changed_at_ms FROM programme WHERE id = 'programme'",
	);
	if (!row) return { name: "Programme", rules: policyFrom({}), changedAtMs: 0 };
	return { name: row.name, rules: policyFrom(JSON.parse(row.policy)), changedAtMs: row.changedAtMs };
}

/** Rules by which no test could be read or no dose be worked out would only be noticed by a volunteer. */
function refuseUnusable(rules: Policy): void {
	kitNamed(rules.testKit);
	try {
		for (const dilution of rules.dilutions) dilutionFactor(dilution);
		for (const turbidity of ["clear", "cloudy"] as const)
			doseFor({ ...USUAL_WATER, turbidity, targets: { doseMgPerL: rules.doseMgPerL[turbidity] }, measure: rules.measure });
	} catch (error) {
		if (!(error instanceof RangeError)) throw error;
		throw new InputError("invalid-input", `No dose or test can be worked out by these rules: ${error.message}.`, {
			problems: [{ at: "/rules", message: error.message }],
			cause: error,
		});
	}
}

/** A ladder for a kind that is misspelt would never be climbed, and nobody would notice. */
function refuseUnknownKinds({ ladders }: Policy, kinds: readonly string[]): void {
	const unknown = Object.keys(ladders).filter((name) => !kinds.includes(name));
	if (unknown.length === 0) return;
	const message = `names no kind of work; there are ${kinds.join(", ")}`;
	throw new InputError("invalid-input", "There is a ladder for work that there isn't.", {
		problems: unknown.map((name) => ({ at: `/rules/ladders/${name.replaceAll("~", "~0").replaceAll("/", "~1")}`, message })),
	});
}

/** The same for a text: its reminders would wait as long as any others. */
function refuseUnknownTexts({ messages: { staleAfterHoursOf } }: Policy): void {
	const unknown = Object.keys(staleAfterHoursOf).filter((name) => !asksForWork(name) && !isDigest(name));
	if (unknown.length === 0) return;
	throw new InputError("invalid-input", "Only a text that asks for work, digest.work or digest.late can become stale.", {
		problems: unknown.map((name) => ({
			at: `/rules/messages/staleAfterHoursOf/${name.replaceAll("~", "~0").replaceAll("/", "~1")}`,
			message: "names no such text; retest.again would be one",
		})),
	});
}

const USUAL_WATER = { strength: { lowGPerL: 4.5, medianGPerL: 5, highGPerL: 5.5 }, waterVolumeL: 20, waterTemperatureC: 25 };

function changedSince(): InputError {
	return new InputError(
		"conflict",
		"The rules have been changed since they were read; read them again and make the change in those.",
		{
			status: 412,
		},
	);
}
