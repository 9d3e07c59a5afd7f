import { InputError } from "../errors/errors.js";
import type { Policy } from "../programme/policy.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { refreshGenerators } from "./refresh.js";
import { type CareWork, type ElectrodeLook, GeneratorCareRow } from "./rows.js";
import { told } from "./told.js";

/** Something that was done for a generator. */
export interface DoneCare {
	readonly generatorId: string;
	readonly works: readonly CareWork[];
	readonly doneAtMs: number;
	/** Of an inspection. */
	readonly look: ElectrodeLook | null;
	readonly byPersonId: string | null;
	readonly taskId: string | null;
}

interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

/**
 * Keeps what was done for a generator, and reckons anew when it is next cared for.
 * @throws InputError `unknown-subject`, `time-in-future`, `invalid-input` for a look without an inspection
 */
export async function recordCare(tx: Transaction, ids: Ids, care: DoneCare, moment: Moment): Promise<void> {
	const [generator] = await tx.query<{ code: string; areaId: string }>("SELECT code, area_id FROM generator WHERE id = $1", [
		care.generatorId,
	]);
	if (!generator) throw new InputError("unknown-subject", "There is no such generator.", { status: 404 });
	refuseFuture(care.doneAtMs, moment.nowMs, "/doneAt");
	if (care.look !== null && !care.works.includes("inspected"))
		throw new InputError("invalid-input", "Only an inspection sees how the electrode looks.", {
			problems: [{ at: "/look", message: 'must be left out where "inspected" isn\'t among the works' }],
		});
	const { generatorId, doneAtMs, byPersonId, taskId } = care;
	for (const work of care.works)
		await tx.manager.insert(GeneratorCareRow, {
			...{ id: ids.next(), generatorId, work, doneAtMs, recordedAtMs: moment.nowMs, byPersonId, taskId },
			look: work === "inspected" ? (care.look ?? "clean") : null,
		});
	await refreshGenerators(tx, [generatorId], moment);
	const detail = { works: care.works, look: care.look };
	await told(tx, ids, ["generator", { ...generator, id: generatorId }], "generator cared for", detail, moment.nowMs, byPersonId);
}
