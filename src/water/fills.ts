import { placeholders } from "../store/sql.js";
import type { Transaction } from "../store/unit-of-work.js";
import { MINUTE_MS } from "../time/clock.js";
import type { Protocol } from "./protocol/protocol.js";
import type { FillSoFar } from "./protocol/reading.js";

/** Where the water in a container stands: its dose and the check that is waited for. */
export interface Fill {
	readonly containerId: string;
	readonly doseId: string | null;
	readonly protocolVersionId: string;
	readonly soFar: FillSoFar | null;
	readonly waitingSinceMs: number | null;
	/** Of the dose that is open in it; none where it is out of it. */
	readonly dosedAtMs: number | null;
	readonly doseMgPerL: number | null;
	readonly batchId: string | null;
	readonly waterL: number | null;
	readonly bleachMl: number | null;
}

/** @returns fills by container; a container that was never dosed or read isn't among them */
export async function fillsOf(
	from: Pick<Transaction, "query">,
	containerIds: readonly string[],
): Promise<ReadonlyMap<string, Fill>> {
	if (containerIds.length === 0) return new Map();
	const rows = await from.query<Omit<Fill, "soFar"> & { soFar: string | null }>(
		`SELECT f.container_id, f.dose_id, f.protocol_version_id, f.so_far, f.waiting_since_ms, d.dosed_at_ms, d.dose_mg_per_l, d.batch_id, d.water_l, d.bleach_ml
		 FROM container_fill f LEFT JOIN dose d ON d.id = f.dose_id AND d.state = 'open' WHERE f.container_id IN (${placeholders(containerIds.length)})`,
		containerIds,
	);
	return new Map(
		rows.map((row) => [row.containerId, { ...row, soFar: row.soFar === null ? null : (JSON.parse(row.soFar) as FillSoFar) }]),
	);
}

export async function keepFill(
	tx: Transaction,
	fill: Pick<Fill, "containerId" | "doseId" | "protocolVersionId" | "soFar" | "waitingSinceMs">,
): Promise<void> {
	const soFar = fill.soFar === null ? null : JSON.stringify(fill.soFar);
	await tx.affected(
		`INSERT INTO container_fill (container_id, dose_id, protocol_version_id, so_far, waiting_since_ms) VALUES ($1, $2, $3, $4, $5)
		 ON CONFLICT (container_id) DO UPDATE SET dose_id = excluded.dose_id, protocol_version_id = excluded.protocol_version_id,
		 so_far = excluded.so_far, waiting_since_ms = excluded.waiting_since_ms`,
		[fill.containerId, fill.doseId, fill.protocolVersionId, soFar, fill.waitingSinceMs],
	);
}

/** @returns when the reading that is waited for counts; none where no check is waited for */
export function waitEndsMs({ soFar, waitingSinceMs }: Pick<Fill, "soFar" | "waitingSinceMs">): number | null {
	return soFar === null || waitingSinceMs === null ? null : waitingSinceMs + soFar.waitMinutes * MINUTE_MS;
}

/** @returns whether a reading of this fill has asked for something, so that its next check is one that people wait for */
export const isFollowUp = (soFar: FillSoFar): boolean => Object.keys(soFar.times).length > 0;

/**
 * Whether a reading of this fill was too low: then more bleach goes into the same water.
 * @param protocol with its check at the point of use
 */
export function asksForMoreBleach(protocol: Protocol, soFar: FillSoFar | null): boolean {
	return Object.keys(soFar?.times ?? {}).some((key) => {
		const [checkCode, bandCode] = key.split("/");
		const check = protocol.checks.find(({ code }) => code === checkCode);
		const bands = [...(check?.bands ?? []), ...(check?.bandsAtPH8AndOver ?? [])];
		return bands.some(({ code, meaning }) => code === bandCode && meaning === "tooLow");
	});
}
