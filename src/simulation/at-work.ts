import type { Brief } from "../duties/kind.js";
import { InputError } from "../errors/errors.js";
import { CARE, COMPARE_TESTS, FIND_FAULT, RUN_AGAIN } from "../generators/due-kinds.js";
import { dueNow } from "../programme/due.js";
import type { HouseholdRow, PersonRow } from "../programme/rows.js";
import { COLLECT, MAKE, RETEST } from "../stock/due-work.js";
import { DAY_MS, MINUTE_MS } from "../time/clock.js";
import { CHECK_WATER } from "../water/kinds.js";
import { DOSED_AT_HOUR, LEAST_ML, SAFE_MG_PER_L, type SimulatedHouseholds } from "./household-days.js";
import { dayOf, type FiledJar, type TrueJars } from "./jars.js";
import { CONTAINER_L, SIMULATION_START_MS, type SimulatedProgramme } from "./programme.js";
import type { SimulatedServices } from "./services.js";
import { EFFORT_MINUTES } from "./truth/effort.js";
import { type Character, isMadeUp, residualReading, strengthReading } from "./truth/people.js";
import type { Way } from "./ways.js";

export interface SimulatedTask {
	readonly id: string;
	readonly code: string;
	readonly kind: string;
	readonly subjectId: string;
	readonly brief: Brief;
}

/** What somebody sends once she has done a task; none: what she did is on file already. */
export type Sent = string | undefined;

/** What people do when they take up a task: they look at the true world, and answer what they see. */
export class PeopleAtWork {
	/** Minutes that work has taken so far. */
	minutes = 0;
	private readonly lastReading = new Map<string, string>();
	private readonly householdOf: ReadonlyMap<string, HouseholdRow>;
	private readonly containerCodes: ReadonlyMap<string, string>;

	constructor(
		private readonly programme: SimulatedProgramme,
		private readonly way: Way,
		private readonly services: SimulatedServices,
		private readonly jars: TrueJars,
		private readonly households: SimulatedHouseholds,
		private readonly characters: ReadonlyMap<string, Character>,
	) {
		const byId = new Map(programme.households.map((household) => [household.id, household]));
		this.householdOf = new Map(programme.containers.map(({ id, householdId }) => [id, byId.get(householdId) as HouseholdRow]));
		this.containerCodes = new Map(programme.containers.map(({ id, code }) => [id, code]));
	}

	/** @returns what is answered behind the task's code */
	async do(task: SimulatedTask, person: PersonRow): Promise<Sent> {
		switch (task.kind) {
			case RETEST:
			case COMPARE_TESTS:
				return this.test(task, person);
			case CHECK_WATER:
				return this.visit(task, person);
			case COLLECT:
				this.minutes += EFFORT_MINUTES.collecting;
				return "done";
			case MAKE:
				return this.make(task, person);
			case CARE:
				return this.care(task);
			case FIND_FAULT:
				return this.findFault(task);
			case RUN_AGAIN:
				return this.runOn(task);
			default:
				this.minutes += EFFORT_MINUTES.discarding;
				return "done";
		}
	}

	private async test({ kind, subjectId, brief }: SimulatedTask, person: PersonRow): Promise<Sent> {
		const nowMs = this.services.clock.nowMs();
		const jarId = kind === RETEST ? subjectId : await this.idOf(String(brief["jar"]));
		const jar = jarId === undefined ? undefined : await this.jars.byId(jarId);
		if (!jar) return "cannot";
		const day = dayOf(nowMs);
		const character = this.characters.get(person.id);
		const last = this.lastReading.get(jar.id);
		if (last !== undefined && character && isMadeUp(this.programme.seed, character, person.code, day)) return last;
		this.minutes += EFFORT_MINUTES.strengthTest;
		const dilution = { sampleMl: Number(brief["sampleMl"]), madeUpToL: Number(brief["waterL"]) };
		const strengthGPerL = await this.jars.strengthGPerL(jar, nowMs);
		const about = jar.keeperId === null ? "point" : "jar";
		const reading = strengthReading(this.programme.seed, person.code, about, day, strengthGPerL, dilution);
		this.lastReading.set(jar.id, reading);
		return reading;
	}

	/** The volunteer asks when and with how much the water was dosed, writes it down, and reads it. */
	private async visit({ subjectId }: SimulatedTask, person: PersonRow): Promise<Sent> {
		const nowMs = this.services.clock.nowMs();
		const household = this.householdOf.get(subjectId) as HouseholdRow;
		const found = this.households.now(household.id, nowMs);
		if (!found) return "cannot";
		this.minutes += EFFORT_MINUTES.waterCheck;
		const { today, freeMgPerL } = found;
		const reading = residualReading(this.programme.seed, household.code, dayOf(nowMs), freeMgPerL);
		const containerCode = this.containerCodes.get(subjectId) as string;
		if (today.jar && today.toldMl > 0 && (await this.wroteDown(containerCode, today.jar, today.toldMl, nowMs))) {
			const { outcome } = await this.services.residuals.record({
				...{ containerCode, checkedAtMs: nowMs, reading, checkerId: person.id },
			});
			if (typeof outcome["bleachMl"] === "number") await this.households.add(household.id, outcome["bleachMl"], nowMs);
			await this.afterReading(Number(reading), today.jar);
			return undefined;
		}
		if (today.jar) await this.afterReading(Number(reading), today.jar);
		return reading;
	}

	/** @returns whether the books took the dose; they may hold less in the jar than there is */
	private async wroteDown(containerCode: string, jar: FiledJar, bleachMl: number, nowMs: number): Promise<boolean> {
		const dosedAtMs = nowMs - ((nowMs - SIMULATION_START_MS) % DAY_MS) + DOSED_AT_HOUR * 60 * MINUTE_MS;
		if (dosedAtMs >= nowMs) return false;
		try {
			await this.services.water.recordDose({
				...{ containerCode, batchCode: jar.code, dosedAtMs, waterL: CONTAINER_L, bleachMl, into: "new water", byPersonId: null },
			});
			return true;
		} catch (error) {
			if (error instanceof InputError) return false;
			throw error;
		}
	}

	private async afterReading(readMgPerL: number, jar: FiledJar): Promise<void> {
		if (!this.way.testsAfterLowReading || readMgPerL >= SAFE_MG_PER_L.least || jar.state !== "in use") return;
		await this.services.store.work.run((tx) => dueNow(tx, RETEST, "batch", [jar.id], this.services.clock.nowMs()));
	}

	/** Once a week a volunteer measures what is left in her jars, and tells the office. */
	async count(person: PersonRow): Promise<void> {
		const nowMs = this.services.clock.nowMs();
		for (const jar of await this.jars.withVolunteers()) {
			if (jar.keeperId !== person.id) continue;
			this.minutes += EFFORT_MINUTES.counting;
			const heldMl = await this.jars.heldMl(jar);
			const volumeMl = heldMl < LEAST_ML ? 0 : Math.round(heldMl / COUNTED_TO_ML) * COUNTED_TO_ML;
			const move = { kind: "counted", volumeMl, atMs: nowMs, byCode: person.code, note: "weekly count" } as const;
			await this.services.moves.record(jar.code, move);
		}
	}

	private async make({ subjectId, brief }: SimulatedTask, person: PersonRow): Promise<Sent> {
		const nowMs = this.services.clock.nowMs();
		const generator = this.programme.generators.find(({ id }) => id === subjectId);
		if (!generator || brief["shortage"] === "yes") return "done";
		const [runs, minutes] = [Number(brief["runs"]), Number(brief["minutesPerRun"])];
		const [last] = await this.services.store.query<{ endedAtMs: number | null }>(
			"SELECT MAX(ended_at_ms) AS ended_at_ms FROM generator_run WHERE generator_id = $1",
			[subjectId],
		);
		const firstFromMs = nowMs - runs * (minutes + 10) * MINUTE_MS;
		// The generator has only just been at work on something else: another day.
		if ((last?.endedAtMs ?? 0) > firstFromMs) return "cannot";
		for (let run = 0; run < runs; run++) {
			this.minutes += EFFORT_MINUTES.makingARun;
			const endedAtMs = nowMs - (runs - 1 - run) * (minutes + 10) * MINUTE_MS;
			await this.services.generators.run({
				...{ generatorId: subjectId, operatorId: person.id, startedAtMs: endedAtMs - minutes * MINUTE_MS, endedAtMs },
				...{ saltG: Number(brief["saltPerRunG"]), waterL: generator.batchVolumeL, powerSource: "solar panel", batteryId: null },
				...{ currentA: generator.ratedCurrentA, restVoltageV: null, gasSeen: true, furtherOfRunId: null, rinsed: true },
				product: { keeperCode: null, wall: "opaque", exposure: "indoors", litAreaM2: 0, ph: null, phKnowledge: "not measured" },
			});
		}
		return "done";
	}

	private async care({ subjectId, brief }: SimulatedTask): Promise<Sent> {
		const nowMs = this.services.clock.nowMs();
		this.minutes += EFFORT_MINUTES.generatorCare;
		if (brief["descale"] === "yes") {
			this.jars.descaled(subjectId, nowMs);
			return "done";
		}
		return brief["inspect"] === "yes" && this.jars.isScaled(subjectId, nowMs) ? "2" : "done";
	}

	private async findFault({ subjectId }: SimulatedTask): Promise<Sent> {
		const nowMs = this.services.clock.nowMs();
		this.minutes += EFFORT_MINUTES.generatorCare;
		if (!this.jars.isScaled(subjectId, nowMs)) return "5";
		this.jars.descaled(subjectId, nowMs);
		return "3";
	}

	private async runOn({ brief }: SimulatedTask): Promise<Sent> {
		this.minutes += EFFORT_MINUTES.makingARun;
		const jarId = await this.idOf(String(brief["jar"]));
		const jar = jarId === undefined ? undefined : await this.jars.byId(jarId);
		if (!jar) return "cannot";
		const full = RUN_MINUTES;
		await this.jars.runOn(jar, Number(brief["minutes"]) / full, Number(brief["targetGPerL"]), this.services.clock.nowMs());
		return "done";
	}

	private async idOf(jarCode: string): Promise<string | undefined> {
		const [row] = await this.services.store.query<{ id: string }>("SELECT id FROM batch WHERE code = $1", [jarCode]);
		return row?.id;
	}
}

/** A jar's marks. */
const COUNTED_TO_ML = 50;

/** Minutes in which the simulated generators fill their vessel with 5 g/L. */
const RUN_MINUTES = 75;
