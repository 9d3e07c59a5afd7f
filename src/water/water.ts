import { InputError } from "../errors/errors.js";
import { record } from "../ledger/ledger.js";
import { currentPolicy } from "../programme/policy.js";
import type { MonthlyClimate } from "../science/climate.js";
import type { DoseAnswer } from "../science/dose.js";
import { doseMgPerL } from "../science/dose-volume.js";
import type { Batches } from "../stock/batches.js";
import type { Store } from "../store/store.js";
import type { Transaction } from "../store/unit-of-work.js";
import { type Clock, DAY_MS, HOUR_MS } from "../time/clock.js";
import { refuseFuture } from "../time/future.js";
import type { Ids } from "../time/ids.js";
import { type ContainerClass, dayOfYear, todaysDose } from "./dose-card.js";
import { DoseRow, ResidualCheckRow } from "./rows.js";

export interface NewDose {
	readonly containerCode: string;
	readonly batchCode: string;
	readonly dosedAtMs: number;
	readonly waterL: number;
	readonly bleachMl: number;
}

export interface NewResidualCheck {
	readonly containerCode: string;
	readonly checkedAtMs: number;
	readonly freeChlorineMgPerL: number;
	readonly checkerId: string | null;
}

/** A check says something of a dose for so long after it; later it is a check of water that nobody has told us of. */
const DOSE_COUNTS_MS = 3 * DAY_MS;

/** What was put into a household's water, and what was read in it. */
export class Water {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly batches: Batches,
	) {}

	/** @returns today's dose from a batch for one container of water. @throws InputError `unknown-subject` */
	async dose(batchCode: string, water: ContainerClass): Promise<DoseAnswer> {
		const { row, forecast } = await this.batches.now(batchCode);
		if (forecast.contradiction) return { kind: "refused", reason: "readingContradicts" };
		const climate = JSON.parse(row.climate) as MonthlyClimate[];
		const policy = await currentPolicy(this.store);
		return todaysDose(forecast.now, row.madeStrengthGPerL, water, climate, dayOfYear(this.clock.nowMs()), policy);
	}

	/** @throws InputError `unknown-subject`, `time-in-future`, `time-before-made`, `invalid-input` (more water than the container holds) */
	recordDose(dose: NewDose): Promise<DoseRow> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const container = await containerOf(tx, dose.containerCode);
			const { row: batch, forecast } = await this.batches.now(dose.batchCode);
			refuseFuture(dose.dosedAtMs, nowMs, "/dosedAt");
			if (dose.dosedAtMs < batch.madeAtMs)
				throw new InputError(
					"time-before-made",
					"The dose is said to be given before its batch was made; check batch and time.",
					{
						problems: [{ at: "/dosedAt", message: `must not be before ${new Date(batch.madeAtMs).toISOString()}` }],
					},
				);
			if (dose.waterL > container.volumeL)
				throw new InputError(
					"invalid-input",
					`The container holds ${container.volumeL} L; ${dose.waterL} L of water can't be in it.`,
					{
						problems: [{ at: "/waterL", message: `must be at most ${container.volumeL} (litres)` }],
					},
				);
			const row: DoseRow = {
				id: this.ids.next(),
				containerId: container.id,
				batchId: batch.id,
				dosedAtMs: dose.dosedAtMs,
				waterL: dose.waterL,
				bleachMl: dose.bleachMl,
				doseMgPerL: doseMgPerL({
					volumeMl: dose.bleachMl,
					waterVolumeL: dose.waterL,
					strengthGPerL: Math.max(0.1, forecast.now.medianGPerL),
				}),
			};
			await tx.manager.insert(DoseRow, row);
			await this.tell(tx, nowMs, "dose recorded", container, { bleachMl: row.bleachMl, waterL: row.waterL });
			return row;
		});
	}

	/** @throws InputError `unknown-subject`, `time-in-future` */
	recordResidual(check: NewResidualCheck): Promise<ResidualCheckRow> {
		return this.store.work.run(async (tx) => {
			const nowMs = this.clock.nowMs();
			const container = await containerOf(tx, check.containerCode);
			refuseFuture(check.checkedAtMs, nowMs, "/checkedAt");
			const [dose] = await tx.query<{ dosedAtMs: number }>(
				`SELECT dosed_at_ms FROM dose WHERE container_id = $1 AND dosed_at_ms <= $2 AND dosed_at_ms >= $3 ORDER BY dosed_at_ms DESC LIMIT 1`,
				[container.id, check.checkedAtMs, check.checkedAtMs - DOSE_COUNTS_MS],
			);
			const row: ResidualCheckRow = {
				id: this.ids.next(),
				containerId: container.id,
				checkedAtMs: check.checkedAtMs,
				freeChlorineMgPerL: check.freeChlorineMgPerL,
				hoursSinceDose: dose ? (check.checkedAtMs - dose.dosedAtMs) / HOUR_MS : null,
				checkerId: check.checkerId,
			};
			await tx.manager.insert(ResidualCheckRow, row);
			await this.tell(tx, nowMs, "residual checked", container, { freeChlorineMgPerL: row.freeChlorineMgPerL });
			return row;
		});
	}

	private tell(tx: Transaction, atMs: number, action: string, container: KnownContainer, detail: Record<string, unknown>) {
		const common = { atMs, actor: "office", action, subjectKind: "container", subjectId: container.id, areaId: container.areaId };
		return record(tx, this.ids, [{ ...common, detail }]);
	}
}

interface KnownContainer {
	readonly id: string;
	readonly volumeL: number;
	readonly areaId: string;
}

async function containerOf(tx: Transaction, code: string): Promise<KnownContainer> {
	const [row] = await tx.query<KnownContainer>(
		"SELECT c.id, c.volume_l, h.area_id FROM container c JOIN household h ON h.id = c.household_id WHERE c.code = $1",
		[code],
	);
	if (row) return row;
	throw new InputError("unknown-subject", "There is no container of the code that was given.", {
		status: 404,
		problems: [{ at: "/containerCode", message: "must be the code of a container on file" }],
	});
}
