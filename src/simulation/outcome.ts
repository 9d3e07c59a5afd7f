import type { Store } from "../store/store.js";
import type { CauseDays } from "./causes.js";
import type { HouseholdDays } from "./household-days.js";
import type { SimulatedProgramme } from "./programme.js";
import type { Way } from "./ways.js";

/** What came of one programme in one way of working. */
export interface Outcome {
	readonly seed: number;
	readonly way: string;
	readonly households: number;
	readonly volunteers: number;
	readonly days: number;
	readonly householdDays: number;
	readonly underDays: number;
	readonly overDays: number;
	/** Of the unsafe ones: those that the dose that was meant would have left too. */
	readonly unsafeAtMeantDoseDays: number;
	readonly withoutBleachDays: number;
	readonly unknownWeakDays: number;
	/** Unsafe days by what they came of. */
	readonly causes: CauseDays;
	readonly tests: number;
	/** Of the tests: within two days of the making. */
	readonly testsAtMaking: number;
	readonly waterChecks: number;
	readonly messages: number;
	readonly discardedL: number;
	readonly madeL: number;
	readonly volunteerHours: number;
}

interface Counted {
	readonly messages: number;
	readonly minutes: number;
	readonly days: HouseholdDays;
}

/** Minutes to read a message. Common practice, no source. */
const MESSAGE_MINUTES = 1;

export async function outcomeOf(
	store: Store,
	{ seed, size }: SimulatedProgramme,
	way: Way,
	days: number,
	counted: Counted,
): Promise<Outcome> {
	const number = async (statement: string): Promise<number> => {
		const [row] = await store.query<{ number: number | null }>(statement);
		return Number(row?.number ?? 0);
	};
	const { days: sums } = counted;
	return {
		...{ seed, way: way.name, households: size.households, volunteers: size.volunteers, days, householdDays: sums.days },
		underDays: tenth(sums.under),
		overDays: tenth(sums.over),
		unsafeAtMeantDoseDays: tenth(sums.unsafeAtMeantDose),
		withoutBleachDays: sums.without,
		unknownWeakDays: sums.unknown,
		causes: Object.fromEntries(Object.entries(sums.causes).map(([cause, days]) => [cause, tenth(days)])) as CauseDays,
		tests: await number("SELECT count(*) AS number FROM strength_test"),
		testsAtMaking: await number(
			"SELECT count(*) AS number FROM strength_test t JOIN batch b ON b.id = t.batch_id WHERE t.tested_at_ms - b.made_at_ms <= 172800000",
		),
		waterChecks: await number("SELECT count(*) AS number FROM residual_check"),
		messages: counted.messages,
		discardedL: tenth(
			(await number("SELECT -SUM(volume_ul) / 1000.0 AS number FROM stock_move WHERE kind = 'discarded'")) / 1000,
		),
		madeL: tenth(await number("SELECT SUM(volume_l) AS number FROM batch WHERE drawn_from_id IS NULL")),
		volunteerHours: tenth((counted.minutes + counted.messages * MESSAGE_MINUTES) / 60),
	};
}

const tenth = (value: number): number => Math.round(value * 10) / 10;
