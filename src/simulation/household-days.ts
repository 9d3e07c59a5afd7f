import type { HouseholdRow } from "../programme/rows.js";
import { medianOfMean, strengthAhead } from "../science/outlook.js";
import type { Store } from "../store/store.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import { type Cause, noDays, type OpenWork, openWork, sharedOut } from "./causes.js";
import { dayOf, type FiledJar, type TrueJars } from "./jars.js";
import { CONTAINER_L, SIMULATION_START_MS } from "./programme.js";
import type { ToldDoses } from "./told-doses.js";
import { type DayWater, DRUNK_HOURS, measuredShare, residualMgPerL, unsafeHours, waterOf } from "./truth/water.js";

/** Under it nobody is protected, over it nobody drinks. Source: WHO, Guidelines for drinking-water quality: 0.2 and 5 mg/L. */
export const SAFE_MG_PER_L = { least: 0.2, most: 5 } as const;
/** A jar under this isn't for drinking water: 70 % of 5 g/L, as the program's own rules have it. */
export const USABLE_G_PER_L = 3.5;
/** Containers are filled and dosed at seven in the morning. */
export const DOSED_AT_HOUR = 7;
/** What clear and cloudy water is to be dosed with, mg/L. Source: Lantagne 2008, J. AWWA 100(8):106-119. */
export const MEANT_MG_PER_L = { clear: 1.875, cloudy: 3.75 } as const;

/** Sums over all households and days. */
export interface HouseholdDays {
	/** Days of households in all. */
	days: number;
	under: number;
	over: number;
	/** Those that the very dose that was meant would have left: it is the water's doing. */
	unsafeAtMeantDose: number;
	/** There was no bleach to dose with. */
	without: number;
	/** Dosed from a jar that was too weak and that nobody knew of. */
	unknown: number;
	/** Unsafe days by what they came of. */
	readonly causes: Record<Cause, number>;
}

/** A household's water on one day. */
interface Today {
	readonly household: HouseholdRow;
	readonly water: DayWater;
	readonly jar: FiledJar | undefined;
	/** What was measured of what was told, mL; 0 without bleach. */
	readonly toldMl: number;
	/** Water that a later dose has changed: from the hour on, so much free chlorine. */
	parts: { fromHour: number; mgPerL: number }[];
	/** Of the class of its water; measured as exactly as that day. */
	meantMgPerL: number;
	/** mg/L: what was meant for this household; that as it was measured; and what was told of bleach as strong as was believed. */
	readonly doses: { readonly meant: number; readonly measured: number; readonly believed: number };
	/** What is said of the jar where it was weaker than believed, and of a day without any. */
	readonly cause: Cause;
}

/** What households really drink, day after day. */
export class SimulatedHouseholds {
	readonly sums: HouseholdDays = { days: 0, under: 0, over: 0, unsafeAtMeantDose: 0, without: 0, unknown: 0, causes: noDays() };
	private today = new Map<string, Today>();

	constructor(
		private readonly seed: number,
		private readonly households: readonly HouseholdRow[],
		private readonly jars: TrueJars,
		private readonly told: ToldDoses,
		private readonly store: Store,
	) {}

	/** Everybody fills her container and doses it from the jar that her volunteer gives out. */
	async dose(atMs: number): Promise<void> {
		this.close();
		const day = dayOf(atMs);
		const filed = await this.jars.withVolunteers();
		const codes = new Map(filed.map(({ id, code }) => [id, code]));
		const lines = new Map<string, readonly string[]>();
		for (const jar of filed) lines.set(jar.id, await this.line(jar, codes));
		const work = await openWork(this.store, atMs);
		for (const household of this.households) {
			const cloudy = household.turbidity !== "clear";
			const share = measuredShare(this.seed, household.code, day);
			const water = waterOf(this.seed, household.code, day, cloudy);
			const meantMgPerL = share * (cloudy ? MEANT_MG_PER_L.cloudy : MEANT_MG_PER_L.clear);
			const jar = await this.givenOut(filed, household.volunteerId);
			const dose = jar && this.told.of(lines.get(jar.id) ?? []);
			const times = this.told.timesOf(household.code);
			const toldMl = dose ? inSteps((cloudy ? dose.cloudyMl : dose.clearMl) * times) : 0;
			const strengthGPerL = jar ? await this.jars.strengthGPerL(jar, atMs) : 0;
			if (jar) await this.jars.use(jar, toldMl * share);
			const mgPerL = (bleachGPerL: number) => (toldMl * share * bleachGPerL) / CONTAINER_L;
			const doses = {
				...{ meant: (meantMgPerL * times) / share, measured: meantMgPerL * times },
				believed: mgPerL(jar ? believedGPerL(jar, atMs) : 0),
			};
			this.today.set(household.id, {
				...{ household, water, jar, toldMl, meantMgPerL, doses },
				cause: jar ? await this.causeOf(jar, work) : withoutBleach(household, work),
				parts: [{ fromHour: DRUNK_HOURS.from, mgPerL: residualMgPerL(mgPerL(strengthGPerL), water, DRUNK_HOURS.from) }],
			});
			if (!jar) this.sums.without++;
			else if (strengthGPerL < USABLE_G_PER_L && isTrusted(jar)) this.sums.unknown++;
		}
	}

	/** Puts a day that is over into the sums. */
	close(): void {
		const hours = DRUNK_HOURS.until - DRUNK_HOURS.from;
		for (const { water, parts, meantMgPerL, doses, jar, cause } of this.today.values()) {
			this.sums.days++;
			let [underShare, overShare] = [0, 0];
			parts.forEach(({ fromHour, mgPerL }, i) => {
				const untilHour = parts[i + 1]?.fromHour ?? DRUNK_HOURS.until;
				const { under, over } = unsafeHours(mgPerL, water.decayPerHour, untilHour - fromHour, SAFE_MG_PER_L);
				underShare += under / hours;
				overShare += over / hours;
			});
			this.sums.under += underShare;
			this.sums.over += overShare;
			const ofDose = (doseMgPerL: number) =>
				unsafeHours(residualMgPerL(doseMgPerL, water, DRUNK_HOURS.from), water.decayPerHour, hours, SAFE_MG_PER_L);
			const { under, over } = ofDose(meantMgPerL);
			this.sums.unsafeAtMeantDose += (under + over) / hours;
			const wouldBe = (doseMgPerL: number) => ofDose(doseMgPerL).under / hours;
			const { meant, measured, believed } = doses;
			const shares = { meant: wouldBe(meant), measured: wouldBe(measured), believed: wouldBe(believed), really: underShare };
			const shared = { over: overShare, ...(jar ? sharedOut(shares, cause) : { [cause]: underShare }) };
			for (const [name, share] of Object.entries(shared)) this.sums.causes[name as Cause] += share;
		}
		this.today.clear();
	}

	/** @returns what is said of a jar where it is weaker than believed */
	private async causeOf(jar: FiledJar, work: OpenWork): Promise<Cause> {
		if (!isTrusted(jar)) return "knownWeak";
		if (work.jars.has(jar.id) || (jar.drawnFromId !== null && work.jars.has(jar.drawnFromId))) return "late";
		if ((await this.jars.exposure(jar)) !== jar.exposure) return "sun";
		return jar.isTested ? "tested" : "untested";
	}

	/** @returns what is in a household's container, and what it was dosed with this morning */
	now(householdId: string, atMs: number): { readonly today: Today; readonly freeMgPerL: number } | undefined {
		const today = this.today.get(householdId);
		if (!today) return undefined;
		const last = today.parts.at(-1) as Today["parts"][number];
		const hours = Math.max(0, hourOf(atMs) - last.fromHour);
		return { today, freeMgPerL: last.mgPerL * Math.exp(-today.water.decayPerHour * hours) };
	}

	/** Somebody was told to put more bleach into water that was read. */
	async add(householdId: string, bleachMl: number, atMs: number): Promise<void> {
		const found = this.now(householdId, atMs);
		if (!found?.today.jar) return;
		const { today, freeMgPerL } = found;
		const strengthGPerL = await this.jars.strengthGPerL(found.today.jar, atMs);
		await this.jars.use(found.today.jar, bleachMl);
		today.parts.push({ fromHour: hourOf(atMs), mgPerL: freeMgPerL + (bleachMl * strengthGPerL) / CONTAINER_L });
	}

	/** @returns the jar that a volunteer gives out: the oldest that she may use; else what she has, too weak as it may be */
	private async givenOut(filed: readonly FiledJar[], volunteerId: string | null): Promise<FiledJar | undefined> {
		const hers: FiledJar[] = [];
		for (const jar of filed) if (jar.keeperId === volunteerId && (await this.jars.heldMl(jar)) > LEAST_ML) hers.push(jar);
		return hers.find(isTrusted) ?? hers.at(-1);
	}

	/** @returns the codes of a jar and of what it was drawn from */
	private async line(jar: FiledJar, codes: Map<string, string>): Promise<readonly string[]> {
		if (jar.drawnFromId === null) return [jar.code];
		const code = codes.get(jar.drawnFromId) ?? (await this.jars.byId(jar.drawnFromId))?.code;
		if (code === undefined) return [jar.code];
		codes.set(jar.drawnFromId, code);
		return [jar.code, code];
	}
}

/** A syringe's steps: half a mL. */
const inSteps = (volumeMl: number): number => Math.round(volumeMl * 2) / 2;

/** What the program believes of a jar that morning; where it hasn't forecast it, what is on its label. */
const believedGPerL = ({ outlook, madeStrengthGPerL }: FiledJar, atMs: number): number =>
	outlook.length > 0 ? medianOfMean(strengthAhead(outlook, atMs)) : madeStrengthGPerL;

const withoutBleach = ({ volunteerId, areaId }: HouseholdRow, { volunteers, areas }: OpenWork): Cause =>
	volunteers.has(volunteerId ?? "") ? "notFetched" : areas.has(areaId) ? "notMade" : "notAsked";

/** Less can't be measured out. */
export const LEAST_ML = 20;

/** Nobody has been told that it is too weak, set it aside or doubts it. */
export const isTrusted = (jar: FiledJar): boolean =>
	jar.state === "in use" && jar.setAsideUntilMs === null && !jar.isContradicted;

/** @returns hours since the containers were filled on that day */
const hourOf = (atMs: number): number => ((atMs - SIMULATION_START_MS) % DAY_MS) / HOUR_MS - DOSED_AT_HOUR;
