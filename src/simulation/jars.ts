import type { Exposure, Wall } from "../science/exposure.js";
import type { StrengthAhead } from "../science/outlook.js";
import type { Forecast } from "../stock/forecast.js";
import type { Store } from "../store/store.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import { SIMULATION_START_MS } from "./programme.js";
import { MAKING } from "./truth/constants.js";
import { isHard, isLeftInSun, jarRateShare, makingOf, outputShare, type Standing, trueStrengthGPerL } from "./truth/strength.js";
import type { Weather } from "./truth/weather.js";

/** What the program has on file of a jar, as far as its truth hangs on it. */
export interface FiledJar {
	readonly id: string;
	readonly code: string;
	readonly keeperId: string | null;
	readonly generatorId: string | null;
	readonly madeAtMs: number;
	readonly madeStrengthGPerL: number;
	readonly drawnFromId: string | null;
	readonly drawnAtMs: number | null;
	readonly wall: Wall;
	readonly exposure: Exposure;
	readonly state: string;
	readonly setAsideUntilMs: number | null;
	readonly heldMl: number;
	readonly isContradicted: boolean;
	/** What is believed of it, as the program keeps it with the jar; none: not forecast yet. */
	readonly outlook: readonly StrengthAhead[];
	readonly isTested: boolean;
}

interface TrueJar {
	standing: Standing;
	/** What is really in it; none: as the books have it. */
	heldMl: number;
}

export const dayOf = (atMs: number): number => Math.floor((atMs - SIMULATION_START_MS) / DAY_MS);

/** What is really in the jars of one simulated year, which the program never sees. */
export class TrueJars {
	private readonly known = new Map<string, TrueJar>();
	/** By generator: the day on which its electrode was last descaled. */
	private readonly descaledDay = new Map<string, number>();
	private readonly codes: ReadonlyMap<string, string>;
	private readonly hard: ReadonlyMap<string, boolean>;

	constructor(
		private readonly seed: number,
		private readonly store: Store,
		private readonly weather: Weather,
		generators: readonly { readonly id: string; readonly code: string }[],
		private readonly keeperCodes: ReadonlyMap<string, string>,
	) {
		this.codes = new Map(generators.map(({ id, code }) => [id, code]));
		this.hard = new Map(generators.map(({ id, code }, i) => [id, isHard(seed, code, i === 0)]));
	}

	/** @returns the jars that hold something and stand with a volunteer, the oldest making first */
	async withVolunteers(): Promise<FiledJar[]> {
		return this.filed("b.keeper_id IS NOT NULL AND b.state IN ('in use', 'weak') ORDER BY b.made_at_ms, b.drawn_at_ms, b.code");
	}

	async byId(id: string): Promise<FiledJar | undefined> {
		return (await this.filed("b.id = $1", [id]))[0];
	}

	async strengthGPerL(jar: FiledJar, atMs: number): Promise<number> {
		return trueStrengthGPerL((await this.trueJar(jar)).standing, this.weather, atMs);
	}

	async exposure(jar: FiledJar): Promise<Exposure> {
		return (await this.trueJar(jar)).standing.exposure;
	}

	async heldMl(jar: FiledJar): Promise<number> {
		return (await this.trueJar(jar)).heldMl;
	}

	/** Takes bleach out for water. */
	async use(jar: FiledJar, volumeMl: number): Promise<void> {
		const of = await this.trueJar(jar);
		of.heldMl = Math.max(0, of.heldMl - volumeMl);
	}

	descaled(generatorId: string, atMs: number): void {
		this.descaledDay.set(generatorId, dayOf(atMs));
	}

	/** @returns the share of its output that is lost to scale */
	scaleLoss(generatorId: string, atMs: number): number {
		return 1 - this.outputShare(generatorId, atMs);
	}

	isScaled(generatorId: string, atMs: number): boolean {
		return this.scaleLoss(generatorId, atMs) >= MAKING.scaleSeenAtLoss;
	}

	/** A weak making is run on: what the minutes add, at the generator's present output. */
	async runOn(jar: FiledJar, share: number, targetGPerL: number, atMs: number): Promise<void> {
		const of = await this.trueJar(jar);
		const { strengthShare } = makingOf(this.seed, this.codes.get(jar.generatorId ?? "") ?? "", dayOf(atMs));
		const addedGPerL = targetGPerL * share * strengthShare * this.outputShare(jar.generatorId ?? "", atMs);
		of.standing = {
			...of.standing,
			strengthGPerL: trueStrengthGPerL(of.standing, this.weather, atMs) + addedGPerL,
			sinceMs: atMs,
		};
	}

	private outputShare(generatorId: string, atMs: number): number {
		return outputShare(this.hard.get(generatorId) ?? false, dayOf(atMs) - (this.descaledDay.get(generatorId) ?? 0));
	}

	/** What is in a jar is settled when somebody first asks for it: at its making or drawing nothing is read of it yet. */
	private async trueJar(jar: FiledJar): Promise<TrueJar> {
		const known = this.known.get(jar.id);
		if (known) return known;
		const source = jar.drawnFromId === null ? undefined : await this.byId(jar.drawnFromId);
		const standing = source ? await this.drawn(jar, source) : this.made(jar);
		const of = { standing, heldMl: jar.heldMl };
		this.known.set(jar.id, of);
		return of;
	}

	private made({ generatorId, madeAtMs, madeStrengthGPerL, wall, exposure }: FiledJar): Standing {
		const code = this.codes.get(generatorId ?? "") ?? "";
		const { strengthShare, lossPerDayAt30C } = makingOf(this.seed, code, dayOf(madeAtMs));
		const strengthGPerL = madeStrengthGPerL * strengthShare * this.outputShare(generatorId ?? "", madeAtMs);
		return { strengthGPerL, sinceMs: madeAtMs, lossPerDayAt30C, wall, exposure };
	}

	private async drawn({ drawnAtMs, madeAtMs, keeperId, wall, exposure }: FiledJar, source: FiledJar): Promise<Standing> {
		const sinceMs = drawnAtMs ?? madeAtMs;
		const from = (await this.trueJar(source)).standing;
		const [keeper, day] = [this.keeperCodes.get(keeperId ?? "") ?? "", dayOf(sinceMs)];
		return {
			strengthGPerL: trueStrengthGPerL(from, this.weather, sinceMs),
			sinceMs,
			lossPerDayAt30C: from.lossPerDayAt30C * jarRateShare(this.seed, keeper, day),
			wall,
			exposure: isLeftInSun(this.seed, keeper, day) ? "directSun" : exposure,
		};
	}

	private async filed(where: string, parameters: readonly unknown[] = []): Promise<FiledJar[]> {
		const rows = await this.store.query<Omit<FiledJar, "isContradicted" | "outlook" | "isTested"> & { forecast: string | null }>(
			`SELECT b.id, b.code, b.keeper_id, b.generator_id, b.made_at_ms, b.made_strength_g_per_l, b.drawn_from_id, b.drawn_at_ms, b.wall, b.exposure,
				b.state, b.set_aside_until_ms, b.forecast, COALESCE(b.held_ul / 1000.0, b.volume_l * 1000) AS held_ml FROM batch b WHERE ${where}`,
			parameters,
		);
		return rows.map(({ forecast, ...row }) => {
			const believed = forecast === null ? undefined : (JSON.parse(forecast) as Forecast);
			return {
				...row,
				heldMl: Number(row.heldMl),
				isContradicted: Boolean(believed?.contradiction),
				outlook: believed?.outlook ?? [],
				isTested: Boolean(believed?.learned),
			};
		});
	}
}

/** Bleach that was made today is drawn from tomorrow on. */
export const READY_AFTER_MS = 2 * HOUR_MS;
