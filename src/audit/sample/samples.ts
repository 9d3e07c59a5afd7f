import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { among, placeholders } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import { type Clock, DAY_MS } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { localDateOf } from "../../time/local.js";
import type { Randomness } from "../../time/randomness.js";
import { AreaTree, type TreeArea } from "../coverage/area-tree.js";
import { periodOf } from "../coverage/period.js";
import { type Drawn, frameSha256, frameText, METHODS, simpleDraw, twoStageDraw } from "./draw.js";
import { type SampleAims, type SampleMethod, type SamplePlan, samplePlan } from "./plan.js";

/** A sample that somebody wants. */
export interface WantedSample {
	readonly areaCode: string;
	readonly aims: SampleAims;
	readonly method: SampleMethod;
	/** Drawn in public, or agreed on before; left out: 32 hexadecimal digits of chance. */
	readonly seed?: string | undefined;
	/** Who visits: taken in turn, nobody where she looks after the household herself. */
	readonly auditorCodes: readonly string[];
	/** Whose readings are compared: local dates; left out: the 30 days up to today. */
	readonly reportedFrom?: string | undefined;
	readonly reportedTo?: string | undefined;
}

export interface Sample {
	readonly id: string;
	readonly areaId: string;
	readonly areaCode: string;
	readonly timeZone: string;
	readonly drawnAtMs: number;
	readonly seed: string;
	readonly method: string;
	readonly frameSha256: string;
	readonly frameHouseholds: number;
	readonly plan: SamplePlan;
	readonly reportedFrom: string;
	readonly reportedTo: string;
}

interface FrameHousehold {
	readonly id: string;
	readonly code: string;
	readonly areaCode: string;
	readonly volunteerId: string | null;
}

const REPORTED_DAYS = 30;

/** Independent samples: drawn by chance that anybody can repeat, with a visit for each household. */
export class Samples {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
		private readonly randomness: Randomness,
	) {}

	/**
	 * Draws a sample of the households on file in an area and all below it, and keeps it with its frame.
	 * @returns its id
	 * @throws InputError `unknown-area`, `unknown-subject` (an auditor), `sample-too-large`, `invalid-input`, `time-in-future`
	 */
	async draw(wanted: WantedSample): Promise<string> {
		const tree = await AreaTree.of(this.store);
		const top = tree.named(wanted.areaCode, "/areaCode");
		const nowMs = this.clock.nowMs();
		const reported = reportedDays(wanted, top, nowMs);
		return this.store.work.run(async (tx) => {
			const frame = await frameOf(
				tx,
				tree.from(top).map(({ id }) => id),
			);
			if (frame.length === 0)
				throw new InputError("sample-too-large", `There is no household in ${top.code} to draw from.`, {
					problems: [{ at: "/areaCode", message: "must be an area with households" }],
				});
			const auditors = await auditorsNamed(tx, wanted.auditorCodes);
			const plan = samplePlan(wanted.aims, wanted.method, frame.length);
			const seed = wanted.seed ?? this.seed();
			const drawn =
				plan.clusters === null
					? simpleDraw(seed, frame, plan.households)
					: twoStageDraw(seed, frame, { clusters: plan.clusters, perCluster: plan.households / plan.clusters });
			const text = frameText(frame);
			const id = this.ids.next();
			const method = plan.clusters === null ? METHODS.simple : METHODS.twoStage;
			const sha256 = frameSha256(text);
			await tx.insert("audit_sample", COLUMNS, [
				[id, top.id, nowMs, seed, method, sha256, frame.length, JSON.stringify(plan), reported.from, reported.to],
			]);
			await tx.insert("audit_frame", ["sample_id", "lines"], [[id, text]]);
			await tx.insert(
				"audit_visit",
				["id", "sample_id", "household_id", "place", "cluster", "auditor_id"],
				visitsOf(drawn, frame, auditors).map(({ householdId, place, cluster, auditorId }) => [
					...[this.ids.next(), id, householdId, place, cluster, auditorId],
				]),
			);
			const detail = { seed, method, frameSha256: sha256, frameHouseholds: frame.length, households: plan.households };
			const about = { subjectKind: "audit sample", subjectId: id, areaId: top.id, detail };
			await record(tx, this.ids, [{ atMs: nowMs, actor: "office", action: "sample drawn", ...about }]);
			return id;
		});
	}

	/** @throws InputError `unknown-subject` (404) */
	async named(id: string): Promise<Sample> {
		const [row] = await this.store.query<Omit<Sample, "plan"> & { plan: string }>(
			`SELECT s.id, s.area_id, a.code AS area_code, a.time_zone, s.drawn_at_ms, s.seed, s.method, s.frame_sha256, s.frame_households, s.plan, s.reported_from, s.reported_to
			 FROM audit_sample s JOIN area a ON a.id = s.area_id WHERE s.id = $1`,
			[id],
		);
		if (!row) throw new InputError("unknown-subject", "There is no such sample.", { status: 404 });
		return { ...row, drawnAtMs: Number(row.drawnAtMs), plan: JSON.parse(row.plan) as SamplePlan };
	}

	/** @returns the list that it was drawn from, as text. @throws InputError `unknown-subject` (404) */
	async frame(id: string): Promise<string> {
		const [row] = await this.store.query<{ lines: string }>("SELECT lines FROM audit_frame WHERE sample_id = $1", [id]);
		if (!row) throw new InputError("unknown-subject", "There is no such sample.", { status: 404 });
		return row.lines;
	}

	private seed(): string {
		return Array.from({ length: 32 }, () => this.randomness.below(16).toString(16)).join("");
	}
}

const COLUMNS = [
	...[
		"id",
		"area_id",
		"drawn_at_ms",
		"seed",
		"method",
		"frame_sha256",
		"frame_households",
		"plan",
		"reported_from",
		"reported_to",
	],
];

function reportedDays(wanted: WantedSample, { timeZone }: TreeArea, nowMs: number): { from: string; to: string } {
	const to = wanted.reportedTo ?? localDateOf(nowMs, timeZone);
	const from = wanted.reportedFrom ?? localDateOf(nowMs - REPORTED_DAYS * DAY_MS, timeZone);
	periodOf({ from, to }, timeZone, nowMs);
	return { from, to };
}

function frameOf(tx: Transaction, areaIds: readonly string[]): Promise<FrameHousehold[]> {
	return tx.query<FrameHousehold>(
		`SELECT h.id, h.code, a.code AS area_code, h.volunteer_id FROM household h JOIN area a ON a.id = h.area_id WHERE h.area_id ${among(tx.kind, "$1")}`,
		[tx.kind === "postgres" ? areaIds : JSON.stringify(areaIds)],
	);
}

async function auditorsNamed(tx: Transaction, codes: readonly string[]): Promise<string[]> {
	const rows = await tx.query<{ id: string; code: string }>(
		`SELECT id, code FROM person WHERE code IN (${placeholders(codes.length)})`,
		[...codes],
	);
	return codes.map((code, i) => {
		const person = rows.find((row) => row.code === code);
		if (person) return person.id;
		throw new InputError("unknown-subject", `There is no person with the code ${code}.`, {
			problems: [{ at: `/auditorCodes/${i}`, message: "names nobody" }],
		});
	});
}

/** Auditors in turn; who looks after a household herself doesn't audit it. */
function visitsOf(drawn: readonly Drawn[], frame: readonly FrameHousehold[], auditors: readonly string[]) {
	const byCode = new Map(frame.map((household) => [household.code, household]));
	return drawn.map(({ code, cluster }, i) => {
		const { id, volunteerId } = byCode.get(code) as FrameHousehold;
		const auditorId = auditors.map((_, turn) => auditors[(i + turn) % auditors.length]).find((one) => one !== volunteerId);
		if (auditorId === undefined)
			throw new InputError(
				"invalid-input",
				`Household ${code} was drawn, and its only auditor is the volunteer who looks after it.`,
				{
					problems: [
						{ at: "/auditorCodes", message: "must name somebody who looks after none of the households, or a second person" },
					],
				},
			);
		return { householdId: id, place: i + 1, cluster, auditorId };
	});
}
