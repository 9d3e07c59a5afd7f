import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { currentPolicy } from "../programme/policy.js";
import type { Exposure, Wall } from "../science/exposure.js";
import type { Store } from "../store/store.js";
import { only, type Transaction } from "../store/unit-of-work.js";
import type { Clock } from "../time/clock.js";
import type { Ids } from "../time/ids.js";
import { countJar } from "./counting.js";
import { doseToBeTold } from "./dose-told.js";
import { drawOff } from "./drawing.js";
import { refreshForecasts } from "./forecasts.js";
import { handOver } from "./handing-over.js";
import { discardAll, jarOnLedger, type TakenOut, takeOut } from "./moves.js";
import { type NamedPlace, placeNamed } from "./named-places.js";
import type { Calendars } from "./places.js";

interface Told {
	readonly atMs: number;
	/** Code of a person; none: somebody at the office. */
	readonly byCode: string | null;
	/** What it was for, or why, in a few words. */
	readonly note: string | null;
}

/** A move as it comes in; volumes in mL, people and places by their codes. */
export type NewJarMove = Told &
	(
		| { readonly kind: "used" | "spilt"; readonly volumeMl: number }
		| { readonly kind: "counted"; readonly volumeMl: number }
		| { readonly kind: "discarded" }
		| { readonly kind: "handed over"; readonly to: NamedPlace & { readonly exposure?: Exposure | undefined } }
		| {
				readonly kind: "drawn off";
				readonly volumeMl: number;
				readonly into: NamedPlace & {
					readonly code: string;
					readonly wall?: Wall | undefined;
					readonly exposure?: Exposure | undefined;
					readonly litAreaM2?: number | undefined;
				};
		  }
	);

/** Moves of bleach, as people tell of them: each is kept with its line in the ledger, and what hangs on it is reckoned anew. */
export class StockMoves {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly calendars: Calendars,
	) {}

	/**
	 * @returns the id of the jar that the bleach is in now: another one where it was drawn off
	 * @throws InputError `unknown-subject`, `unknown-area`, `invalid-input`, `time-in-future`, `time-before-made`, `more-than-held`, `conflict`
	 */
	record(code: string, move: NewJarMove): Promise<string> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const jarId = await jarCoded(tx, code);
			const byPersonId = move.byCode === null ? null : await personCoded(tx, move.byCode, "/byCode");
			const when = { atMs: move.atMs, nowMs, byPersonId, reference: move.note };
			const changed = await this.write(tx, jarId, move, when);
			const jar = await jarOnLedger(tx, changed, nowMs);
			await record(tx, this.ids, [
				{
					atMs: nowMs,
					actor: byPersonId ?? "office",
					action: ACTIONS[move.kind],
					subjectKind: "batch",
					subjectId: jarId,
					areaId: jar.areaId,
					detail: {
						code,
						...("volumeMl" in move ? { volumeMl: move.volumeMl } : {}),
						...(changed === jarId ? {} : { into: jar.code }),
					},
				},
			]);
			return changed;
		});
	}

	private async write(tx: Transaction, jarId: string, move: NewJarMove, when: Omit<TakenOut, "volumeMl">): Promise<string> {
		switch (move.kind) {
			case "used":
			case "spilt":
				await takeOut(tx, this.ids, jarId, move.kind, { ...when, volumeMl: move.volumeMl });
				return jarId;
			case "counted":
				await countJar(tx, this.ids, jarId, { ...when, foundMl: move.volumeMl });
				await this.refresh(tx, [jarId]);
				return jarId;
			case "discarded":
				await discardAll(tx, this.ids, jarId, when);
				return jarId;
			case "handed over": {
				const to = await placeNamed(tx, jarId, move.to, "/to");
				await this.believed(tx, jarId);
				await handOver(tx, this.ids, jarId, { ...to, ...(move.to.exposure ? { exposure: move.to.exposure } : {}) }, when);
				await this.refresh(tx, [jarId]);
				return jarId;
			}
			case "drawn off": {
				const { code, wall, exposure, litAreaM2, ...place } = move.into;
				const to = await placeNamed(tx, jarId, place, "/into");
				await this.believed(tx, jarId);
				const how = {
					...(wall ? { wall } : {}),
					...(exposure ? { exposure } : {}),
					...(litAreaM2 === undefined ? {} : { litAreaM2 }),
				};
				const filled = await drawOff(tx, this.ids, jarId, { ...to, ...how, code }, { ...when, volumeMl: move.volumeMl });
				await this.refresh(tx, [filled]);
				await doseToBeTold(tx, [filled], await currentPolicy(tx), when.nowMs);
				return filled;
			}
		}
	}

	/** What is believed of a jar begins with its first place and keeper: it must be settled before they change. */
	private async believed(tx: Transaction, jarId: string): Promise<void> {
		const [jar] = await tx.query<{ forecast: string | null }>("SELECT forecast FROM batch WHERE id = $1", [jarId]);
		if (only(jar ? [jar] : []).forecast === null) await this.refresh(tx, [jarId]);
	}

	private async refresh(tx: Transaction, jarIds: readonly string[]): Promise<void> {
		await refreshForecasts(tx, this.calendars, jarIds, await currentPolicy(tx), this.clock.nowMs());
	}
}

const ACTIONS: Readonly<Record<NewJarMove["kind"], string>> = {
	used: "bleach used",
	spilt: "bleach spilt",
	counted: "jar counted",
	discarded: "jar discarded",
	"handed over": "jar handed over",
	"drawn off": "bleach drawn off",
};

/** @throws InputError `unknown-subject` */
export async function jarCoded(tx: Pick<Transaction, "query">, code: string): Promise<string> {
	const [row] = await tx.query<{ id: string }>("SELECT id FROM batch WHERE code = $1", [code]);
	if (row) return row.id;
	throw new InputError("unknown-subject", "There is no batch of that code.", { status: 404 });
}

async function personCoded(tx: Transaction, code: string, at: string): Promise<string> {
	const [row] = await tx.query<{ id: string }>("SELECT id FROM person WHERE code = $1", [code]);
	if (row) return row.id;
	throw new InputError("unknown-subject", "There is no person of the code that was given.", {
		problems: [{ at, message: "must be the code of a person on file" }],
	});
}
