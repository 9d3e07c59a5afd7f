import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import type { Policy } from "../programme/policy.js";
import type { Wall } from "../science/exposure.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import type { Ids } from "../time/ids.js";
import { doseToBeTold } from "./dose-told.js";
import { drawOff } from "./drawing.js";
import { refreshForecasts } from "./forecasts.js";
import { type HeldJar, heldJars } from "./holdings.js";
import type { Calendars } from "./places.js";
import { isUsable } from "./restock.js";

/** Bleach that a volunteer takes at a production point. */
export interface Collection {
	readonly volunteerId: string;
	readonly generatorId: string;
	readonly volumeMl: number;
	readonly atMs: number;
	readonly byPersonId: string | null;
}

export interface Collected {
	/** The jars that were filled for her, and those that they were drawn from, in the same order. */
	readonly jarCodes: readonly string[];
	readonly fromCodes: readonly string[];
}

/**
 * Draws bleach off for a volunteer at a production point, the oldest making first, each into a jar of its own.
 * @throws InputError `more-than-held` where the point's books show less usable bleach
 */
export async function collect(
	tx: Transaction,
	{ ids, calendars }: { readonly ids: Ids; readonly calendars: Calendars },
	order: Collection,
	{ nowMs, policy }: { readonly nowMs: number; readonly policy: Policy },
): Promise<Collected> {
	const jars = await usableAtPoint(tx, order.generatorId, order.atMs, policy);
	const heldMl = jars.reduce((sum, jar) => sum + jar.heldMl, 0);
	if (heldMl < order.volumeMl - 0.0005)
		throw new InputError(
			"more-than-held",
			`The production point holds ${heldMl} mL of usable bleach; ${order.volumeMl} mL can't be taken.`,
			{
				problems: [{ at: "/volumeMl", message: `must be at most ${heldMl} (mL)` }],
			},
		);
	const volunteer = only(await tx.query<{ areaId: string }>("SELECT area_id FROM person WHERE id = $1", [order.volunteerId]));
	const vessel = await usualVessel(tx, order.volunteerId);
	const [jarCodes, fromCodes, filled]: [string[], string[], string[]] = [[], [], []];
	let leftMl = order.volumeMl;
	for (const jar of jars) {
		if (leftMl <= 0.0005) break;
		const volumeMl = Math.min(leftMl, jar.heldMl);
		const code = await freeCode(tx, jar.code);
		const to = {
			areaId: volunteer.areaId,
			keeperId: order.volunteerId,
			householdId: null,
			exposure: "indoors" as const,
			...vessel,
		};
		const how = { volumeMl, atMs: order.atMs, nowMs, byPersonId: order.byPersonId, reference: "collected" };
		filled.push(await drawOff(tx, ids, jar.id, { code, ...to }, how));
		jarCodes.push(code);
		fromCodes.push(jar.code);
		leftMl -= volumeMl;
	}
	await refreshForecasts(tx, calendars, filled, policy, nowMs);
	await doseToBeTold(tx, filled, policy, nowMs);
	await record(
		tx,
		ids,
		filled.map((subjectId, i) => ({
			atMs: nowMs,
			actor: order.byPersonId ?? "office",
			action: "bleach collected",
			subjectKind: "batch",
			subjectId,
			areaId: volunteer.areaId,
			detail: { code: jarCodes[i], from: fromCodes[i], volumeMl: order.volumeMl },
		})),
	);
	return { jarCodes, fromCodes };
}

/** @returns the jars of a production point from which bleach may be given out at an instant, the oldest making first */
async function usableAtPoint(
	from: Pick<Transaction, "query">,
	generatorId: string,
	atMs: number,
	policy: Policy,
): Promise<HeldJar[]> {
	const jars = await heldJars(from, "point", [generatorId]);
	return jars.filter((jar) => jar.madeAtMs <= atMs && isUsable(jar, atMs, policy));
}

/** @returns mL that a production point may give out at an instant, by its books */
export async function usableAtPointMl(
	from: Pick<Transaction, "query">,
	generatorId: string,
	atMs: number,
	policy: Policy,
): Promise<number> {
	return (await usableAtPoint(from, generatorId, atMs, policy)).reduce((sum, { heldMl }) => sum + heldMl, 0);
}

/**
 * What a volunteer brings along is like what she filled last: nobody is asked of it each time.
 * @returns none where nothing is known of her jars: her new one is taken to be like the one that it is drawn from
 */
async function usualVessel(
	from: Pick<Transaction, "query">,
	volunteerId: string,
): Promise<{ readonly wall: Wall; readonly litAreaM2: number } | undefined> {
	const [last] = await from.query<{ wall: Wall; litAreaM2: number }>(
		`SELECT wall, lit_area_m2 FROM batch WHERE keeper_id = $1 AND household_id IS NULL
		 ORDER BY COALESCE(drawn_at_ms, made_at_ms) DESC, id DESC LIMIT 1`,
		[volunteerId],
	);
	return last;
}

/** `B17-3` for the third jar that is drawn from `B17`. */
async function freeCode(tx: Transaction, from: string): Promise<string> {
	const stem = from.slice(0, 34);
	const taken = new Set(
		(await tx.query<{ code: string }>("SELECT code FROM batch WHERE code LIKE $1", [`${stem.replace(/[%_\\]/g, "_")}-%`])).map(
			({ code }) => code,
		),
	);
	let number = 1;
	while (taken.has(`${stem}-${number}`)) number++;
	return `${stem}-${number}`;
}
