import { InputError } from "../errors/errors.js";
import type { Policy } from "../programme/policy.js";
import { serviceChanged } from "../stock/due-work.js";
import type { Transaction } from "../store/unit-of-work.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { refreshGenerators } from "./refresh.js";
import { GeneratorOutageRow } from "./rows.js";
import { lockedGenerator } from "./runs.js";
import { told } from "./told.js";

interface Moment {
	readonly nowMs: number;
	readonly policy: Policy;
}

export interface OutOfService {
	readonly generatorId: string;
	readonly fromMs: number;
	readonly reason: string;
	readonly byPersonId: string | null;
}

/**
 * Takes a generator out of service: it is counted on for nothing, and isn't cared for, until it works again.
 * @throws InputError `unknown-subject`, `time-in-future`, `conflict` where it is out of service already, or ran after that instant
 */
export async function takeOutOfService(tx: Transaction, ids: Ids, out: OutOfService, moment: Moment): Promise<void> {
	const generator = await lockedGenerator(tx, out.generatorId);
	refuseFuture(out.fromMs, moment.nowMs, "/from");
	if (!generator.inService)
		throw new InputError("conflict", `Generator ${generator.code} is out of service already.`, { status: 409 });
	const [run] = await tx.query<{ code: string }>(
		"SELECT code FROM generator_run WHERE generator_id = $1 AND (ended_at_ms IS NULL OR ended_at_ms > $2) ORDER BY started_at_ms LIMIT 1",
		[generator.id, out.fromMs],
	);
	if (run)
		throw new InputError(
			"conflict",
			`Generator ${generator.code} was still at work then: run ${run.code}. End it first, or say a later instant.`,
			{
				status: 409,
				problems: [{ at: "/from", message: `must not be before the end of run ${run.code}` }],
			},
		);
	await tx.manager.insert(GeneratorOutageRow, { ...out, id: ids.next(), untilMs: null, recordedAtMs: moment.nowMs });
	await setService(tx, generator.id, false, moment.nowMs);
	await refreshGenerators(tx, [generator.id], moment);
	await told(tx, ids, ["generator", generator], "generator out of service", { reason: out.reason }, moment.nowMs, out.byPersonId);
}

/**
 * Puts a generator into service again.
 * @throws InputError `unknown-subject`, `time-in-future`, `conflict` where it is in service, `invalid-input` for an instant before it went out
 */
export async function putInService(
	tx: Transaction,
	ids: Ids,
	back: { readonly generatorId: string; readonly untilMs: number; readonly byPersonId: string | null },
	moment: Moment,
): Promise<void> {
	const generator = await lockedGenerator(tx, back.generatorId);
	refuseFuture(back.untilMs, moment.nowMs, "/at");
	if (generator.inService)
		throw new InputError("conflict", `Generator ${generator.code} is in service already.`, { status: 409 });
	const [outage] = await tx.query<{ id: string; fromMs: number }>(
		"SELECT id, from_ms FROM generator_outage WHERE generator_id = $1 AND until_ms IS NULL",
		[generator.id],
	);
	if (outage && back.untilMs < outage.fromMs) {
		const from = new Date(outage.fromMs).toISOString();
		throw new InputError(
			"invalid-input",
			`Generator ${generator.code} went out of service at ${from}; it can't have come back before.`,
			{
				problems: [{ at: "/at", message: `must not be before ${from}` }],
			},
		);
	}
	if (outage) await tx.affected("UPDATE generator_outage SET until_ms = $2 WHERE id = $1", [outage.id, back.untilMs]);
	await setService(tx, generator.id, true, moment.nowMs);
	await refreshGenerators(tx, [generator.id], moment);
	await told(tx, ids, ["generator", generator], "generator in service", {}, moment.nowMs, back.byPersonId);
}

async function setService(tx: Transaction, id: string, inService: boolean, nowMs: number): Promise<void> {
	await tx.affected("UPDATE generator SET in_service = $2 WHERE id = $1", [id, Number(inService)]);
	await serviceChanged(tx, id, nowMs);
}
