import { InputError } from "../errors/errors.js";
import { currentPolicy, type Policy } from "../programme/policy.js";
import type { Turbidity } from "../programme/rows.js";
import type { Calendars } from "../stock/places.js";
import { placeholders } from "../store/sql.js";
import type { Store } from "../store/store.js";
import type { Clock } from "../time/clock.js";
import { lastCleanedMs } from "./cleanings.js";
import { containersOf, type KnownContainer, waterNow } from "./containers.js";
import { type Fill, fillsOf, waitEndsMs } from "./fills.js";
import { householdBeliefs } from "./household-belief.js";
import { type JarStrength, jarInUseFor, jarStrengthAt } from "./jar-strength.js";
import { CHECK_WATER, CLEAN_CONTAINER } from "./kinds.js";
import { bleachMlPerWeek, fillsPerWeek, storageDays, treatedLitresPerDay } from "./need.js";
import type { ProtocolVersion } from "./protocol/accept.js";
import { versionsIn } from "./protocol/accept.js";
import { protocolsNow } from "./protocol/followed.js";
import { doseByHouseholdProtocol, doseTimesOf, type ProtocolDoseAnswer, plannedDose } from "./protocol-dose.js";

/** Whether the water in a container may be drunk, as far as is known. */
export type Drinkable = "yes" | "after the wait" | "after a fit reading" | "no" | "not known";

/** A container as its household is told of it. */
export interface ContainerNow {
	readonly container: KnownContainer;
	readonly fillsPerWeek: number;
	/** Today's dose of a full container from the jar at hand, by the household's protocol; none without a jar. */
	readonly dose: ProtocolDoseAnswer | null;
	readonly fill: Fill | undefined;
	readonly waitEndsAtMs: number | null;
	readonly drinkable: Drinkable;
	readonly lastReading: LastReading | undefined;
	readonly lastCleanedAtMs: number | null;
	readonly cleanings: readonly { readonly cleanedAtMs: number; readonly cleanerCode: string | null }[];
	readonly nextCheckAtMs: number | null;
	readonly nextCleaningAtMs: number | null;
}

interface LastReading {
	readonly checkedAtMs: number;
	readonly freeChlorineMgPerL: number;
	readonly fitToDrink: boolean | null;
	readonly band: string | null;
	readonly flags: readonly string[];
}

/** All that a household is to know of its water now. */
export interface HouseholdNow {
	readonly code: string;
	readonly persons: number;
	readonly waterSource: string;
	readonly turbidity: Turbidity;
	readonly isSeason: boolean;
	readonly treatedLitresPerDay: number;
	readonly storedL: number;
	readonly storageDays: number | null;
	readonly refillEveryHours: number;
	readonly protocol: ProtocolVersion;
	readonly plannedDoseMgPerL: number | null;
	readonly treatFirst: readonly string[];
	readonly jar: JarStrength | undefined;
	/** At the jar's likely strength, or as fresh bleach is made where there is no jar. */
	readonly bleachMlPerWeek: number | null;
	readonly containers: readonly ContainerNow[];
}

/** As bleach is usually made, 0.5 %, g/L. */
const USUAL_G_PER_L = 5;

/** Reads what a household has to know of its water: how much is treated, with how much bleach of which jar, and what comes next. */
export class HouseholdWater {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly calendars: Calendars,
	) {}

	/** @throws InputError `unknown-subject` (404) */
	async now(householdCode: string): Promise<HouseholdNow> {
		const nowMs = this.clock.nowMs();
		const policy = await currentPolicy(this.store);
		const household = await this.household(householdCode);
		const containers = await containersOf(this.store, household.id);
		const habits = containers[0]?.habits ?? (await this.habitsOf(household.id));
		const usual = { ...household, habits, climate: household.climate };
		const { turbidity, temperatureC } = waterNow(usual, nowMs);
		const protocol = (await protocolsNow(this.store, [household.id])).get(household.id) as ProtocolVersion;
		const planned = plannedDose(protocol.body, { turbidity, temperatureC });
		const jarId = await jarInUseFor(this.store, { householdId: household.id, volunteerId: household.volunteerId });
		const jar = jarId ? await jarStrengthAt(this.store, this.calendars, jarId, policy, nowMs) : undefined;
		const litresPerDay = treatedLitresPerDay({ persons: household.persons, habits }, policy.water);
		const storedL = containers.reduce((sum, { volumeL }) => sum + volumeL, 0);
		const strengthGPerL = Math.max(0.5, jar?.strength.medianGPerL ?? USUAL_G_PER_L);
		return {
			code: householdCode,
			persons: household.persons,
			waterSource: (inSeason(habits, nowMs) ? habits.seasonSource : null) ?? household.waterSource,
			turbidity,
			isSeason: inSeason(habits, nowMs),
			treatedLitresPerDay: litresPerDay,
			storedL,
			storageDays: litresPerDay > 0 ? storageDays(storedL, litresPerDay) : null,
			refillEveryHours: habits.refillEveryHours ?? policy.water.refillHours,
			protocol,
			plannedDoseMgPerL: planned.kind === "dose" ? planned.mgPerL : null,
			treatFirst: planned.kind === "dose" ? pretreatments(protocol, turbidity) : planned.texts,
			jar,
			bleachMlPerWeek:
				planned.kind === "dose" ? bleachMlPerWeek({ litresPerDay, doseMgPerL: planned.mgPerL, strengthGPerL }) : null,
			containers: await this.containersNow(containers, protocol, jar, litresPerDay, storedL, policy, nowMs),
		};
	}

	private async containersNow(
		containers: readonly KnownContainer[],
		protocol: ProtocolVersion,
		jar: JarStrength | undefined,
		litresPerDay: number,
		storedL: number,
		policy: Policy,
		nowMs: number,
	): Promise<ContainerNow[]> {
		if (containers.length === 0) return [];
		const ids = containers.map(({ id }) => id);
		const fills = await fillsOf(this.store, ids);
		const versions = await versionsIn(
			this.store,
			[...fills.values()].map(({ protocolVersionId }) => protocolVersionId),
		);
		const cleaned = await lastCleanedMs(this.store, containers);
		const beliefs = await householdBeliefs(this.store, containers, nowMs);
		const marks = placeholders(ids.length);
		const readings = await this.store.query<LastReading & { containerId: string; fitToDrink: unknown; flags: unknown }>(
			`SELECT container_id, checked_at_ms, free_chlorine_mg_per_l, fit_to_drink, band, flags FROM residual_check WHERE container_id IN (${marks}) ORDER BY checked_at_ms, id`,
			ids,
		);
		const cleanings = await this.store.query<{ containerId: string; cleanedAtMs: number; cleanerCode: string | null }>(
			`SELECT k.container_id, k.cleaned_at_ms, p.code AS cleaner_code FROM container_cleaning k LEFT JOIN person p ON p.id = k.cleaner_id
			 WHERE k.container_id IN (${marks}) ORDER BY k.cleaned_at_ms DESC`,
			ids,
		);
		const due = await this.store.query<{ kind: string; subjectId: string; dueAtMs: number | null }>(
			`SELECT kind, subject_id, due_at_ms FROM due WHERE subject_id IN (${marks})`,
			ids,
		);
		const dueOf = (kind: string, id: string) => due.find((one) => one.kind === kind && one.subjectId === id)?.dueAtMs ?? null;
		return containers.map((container) => {
			const { id, volumeL } = container;
			const fill = fills.get(id);
			const last = readings.findLast(({ containerId }) => containerId === id);
			const lastReading = last && {
				...last,
				fitToDrink: last.fitToDrink === null ? null : Boolean(last.fitToDrink),
				flags: last.flags === null ? [] : (JSON.parse(String(last.flags)) as string[]),
			};
			const demandMgPerL = readings.length > 0 ? beliefs.get(id)?.demandMgPerL : undefined;
			const now = waterNow(container, nowMs);
			const water = { volumeL, ...now, demandMgPerL, doseTimes: doseTimesOf(container, now) };
			return {
				container,
				// Containers are filled in turn: each has its share of the household's litres.
				fillsPerWeek: storedL > 0 ? fillsPerWeek((litresPerDay * volumeL) / storedL, volumeL) : 0,
				dose: jar ? doseByHouseholdProtocol(protocol.body, water, jar, policy) : null,
				fill,
				waitEndsAtMs: fill ? waitEndsMs(fill) : null,
				drinkable: drinkableNow(fill, fill && versions.get(fill.protocolVersionId), lastReading, nowMs),
				lastReading,
				lastCleanedAtMs: cleaned.get(id) ?? null,
				cleanings: cleanings.filter(({ containerId }) => containerId === id).slice(0, MOST_CLEANINGS),
				nextCheckAtMs: dueOf(CHECK_WATER, id),
				nextCleaningAtMs: dueOf(CLEAN_CONTAINER, id),
			};
		});
	}

	private async household(code: string) {
		const [row] = await this.store.query<{
			id: string;
			persons: number;
			waterSource: string;
			turbidity: Turbidity;
			volunteerId: string | null;
			climate: string;
		}>(
			`SELECT h.id, h.persons, h.water_source, h.turbidity, h.volunteer_id, a.climate FROM household h JOIN area a ON a.id = h.area_id WHERE h.code = $1`,
			[code],
		);
		if (!row) throw new InputError("unknown-subject", "There is no household of the code that was given.", { status: 404 });
		return { ...row, climate: JSON.parse(row.climate) as KnownContainer["climate"] };
	}

	private async habitsOf(householdId: string): Promise<KnownContainer["habits"]> {
		const [row] = await this.store.query<KnownContainer["habits"]>("SELECT * FROM household_water WHERE household_id = $1", [
			householdId,
		]);
		return row ?? {};
	}
}

const MOST_CLEANINGS = 20;

function inSeason({ seasonFromMonth: from, seasonUntilMonth: until }: KnownContainer["habits"], atMs: number): boolean {
	if (from == null || until == null) return false;
	const month = new Date(atMs).getUTCMonth() + 1;
	return from <= until ? month >= from && month <= until : month >= from || month <= until;
}

function pretreatments({ body }: ProtocolVersion, turbidity: Turbidity): string[] {
	return body.pretreatment.filter((one) => one.turbidity === turbidity).map(({ text }) => text);
}

function drinkableNow(
	fill: Fill | undefined,
	version: ProtocolVersion | undefined,
	last: LastReading | undefined,
	nowMs: number,
): Drinkable {
	if (!fill || !version) return "not known";
	const endsMs = waitEndsMs(fill);
	const isAsked = fill.soFar !== null && Object.keys(fill.soFar.times).length > 0;
	if (isAsked || (fill.soFar !== null && version.body.drinkFrom === "fitReading")) return "after a fit reading";
	if (fill.soFar !== null && endsMs !== null && endsMs > nowMs) return "after the wait";
	if (fill.soFar === null && last?.fitToDrink === false) return "no";
	return fill.dosedAtMs === null ? "not known" : "yes";
}
