import { InputError } from "../errors/errors.js";
import type { Outgoing } from "../messages/notifier.js";
import type { PersonRow } from "../programme/rows.js";
import { DAY_MS, HOUR_MS } from "../time/clock.js";
import { PeopleAtWork, type SimulatedTask } from "./at-work.js";
import { type CalibrationPoint, calibrationPoints } from "./calibration.js";
import { DOSED_AT_HOUR, SimulatedHouseholds } from "./household-days.js";
import { dayOf, TrueJars } from "./jars.js";
import { loadProgramme } from "./load.js";
import { type Outcome, outcomeOf } from "./outcome.js";
import type { SimulatedPhones } from "./phone.js";
import { SIMULATED_CLIMATE, SIMULATION_START_MS, type SimulatedProgramme } from "./programme.js";
import type { SimulatedServices } from "./services.js";
import { ToldDoses } from "./told-doses.js";
import { answerHours, type Character, characterOf, isIll, isPhoneOff, supervisorHours } from "./truth/people.js";
import { weatherOf } from "./truth/weather.js";
import type { Way } from "./ways.js";

/** Hours of the day at which the clock stops for people to act; at night nobody does. */
const LOOKS_AT_HOURS = [6, DOSED_AT_HOUR, 9, 11, 13, 15, 17, 19] as const;
/** A jar is in the table of calibration once in so many days. */
const CALIBRATED_EVERY_DAYS = 7;

/** Jars are measured on Mondays; the first day is a Thursday. */
const COUNTED_ON_DAY = 4;
const COUNTED_AT_HOUR = 9;

/** What texts that tell of doses are filled with. */
interface HeardFill {
	readonly jar: string;
	readonly doses: string;
	readonly household: string;
	readonly times: number;
}

interface Expected {
	readonly atMs: number;
	readonly task: SimulatedTask;
	readonly person: PersonRow;
}

/** One programme that works in one way for some days, in virtual time, through the program's own services. */
export class SimulatedRun {
	private readonly people: ReadonlyMap<string, PersonRow>;
	private readonly characters: ReadonlyMap<string, Character>;
	private readonly told = new ToldDoses();
	private readonly jars: TrueJars;
	private readonly households: SimulatedHouseholds;
	private readonly work: PeopleAtWork;
	private expected: Expected[] = [];
	private received = 0;
	readonly calibration: CalibrationPoint[] = [];

	constructor(
		private readonly services: SimulatedServices,
		private readonly phones: SimulatedPhones,
		private readonly programme: SimulatedProgramme,
		private readonly way: Way,
		private readonly days: number,
	) {
		const { seed } = programme;
		this.people = new Map(programme.people.map((person) => [person.id, person]));
		this.characters = new Map(programme.volunteers.map(({ id, code }) => [id, characterOf(seed, code)]));
		const codes = new Map(programme.people.map(({ id, code }) => [id, code]));
		const weather = weatherOf(seed, SIMULATED_CLIMATE, SIMULATION_START_MS, days);
		this.jars = new TrueJars(seed, services.store, weather, programme.generators, codes);
		this.households = new SimulatedHouseholds(seed, programme.households, this.jars, this.told, services.store);
		this.work = new PeopleAtWork(programme, way, services, this.jars, this.households, this.characters);
		phones.isOff = (id) => isPhoneOff(seed, codes.get(id) ?? "", dayOf(services.clock.nowMs()));
	}

	async outcome(): Promise<Outcome> {
		const { clock, store } = this.services;
		clock.moveTo(SIMULATION_START_MS);
		await loadProgramme(store, this.programme, clock.nowMs());
		await this.firstJars();
		for (let day = 0; day < this.days; day++)
			for (const hour of LOOKS_AT_HOURS) await this.look(SIMULATION_START_MS + day * DAY_MS + hour * HOUR_MS, hour);
		this.households.close();
		const counted = { messages: this.phones.count, minutes: this.work.minutes, days: this.households.sums };
		return outcomeOf(store, this.programme, this.way, this.days, counted);
	}

	private async look(atMs: number, hour: number): Promise<void> {
		const { clock, escalation, sweep, doseNews, dispatcher } = this.services;
		clock.moveTo(atMs);
		if (hour === DOSED_AT_HOUR) {
			await this.households.dose(atMs);
			const day = dayOf(atMs);
			if (day % CALIBRATED_EVERY_DAYS === 0)
				this.calibration.push(...(await calibrationPoints(this.services, this.jars, this.programme.seed, day, atMs)));
		}
		if (hour === COUNTED_AT_HOUR && dayOf(atMs) % 7 === COUNTED_ON_DAY)
			for (const volunteer of this.programme.volunteers)
				if (!isIll(this.programme.seed, volunteer.code, dayOf(atMs))) await this.work.count(volunteer);
		await this.takeUpWork(atMs);
		await escalation.climb();
		await sweep.openDue();
		await doseNews.tell();
		while ((await dispatcher.dispatchReady()) > 0);
		await this.readPhones(atMs);
	}

	/** On the first morning everybody has what lasts for a few days. */
	private async firstJars(): Promise<void> {
		const { batches, clock } = this.services;
		for (const volunteer of this.programme.volunteers) {
			const area = this.programme.areas.find(({ id }) => id === volunteer.areaId);
			const generator = this.programme.generators.find(({ areaId }) => areaId === volunteer.areaId);
			await batches.register({
				...{ code: `${volunteer.code}-0`, madeAtMs: clock.nowMs() - 12 * HOUR_MS, volumeL: 2, madeStrengthGPerL: 5 },
				...{ madeStrengthLnSd: 0.2, saltGPerL: 30, ph: null, phKnowledge: "not measured", exposure: "indoors", litAreaM2: 0.03 },
				wall: this.characters.get(volunteer.id)?.wall ?? "opaque",
				...{ generatorCode: generator?.code ?? null, areaCode: area?.code ?? "", keeperCode: volunteer.code },
			});
		}
	}

	private async readPhones(nowMs: number): Promise<void> {
		const arrived = this.phones.arrived.splice(0);
		if (arrived.length === 0) return;
		await this.hearDoses(arrived);
		const day = dayOf(nowMs);
		const waiting = new Set(this.expected.map(({ task, person }) => `${task.id} ${person.id}`));
		for (const { task, personId, isHers } of await this.toldBy(arrived)) {
			const person = this.people.get(personId);
			if (!person || waiting.has(`${task.id} ${personId}`)) continue;
			const hours = this.hoursUntilDone(person, task, day, isHers);
			if (hours === undefined) continue;
			waiting.add(`${task.id} ${personId}`);
			this.expected.push({ atMs: nowMs + hours * HOUR_MS, task, person });
		}
	}

	/** @returns hours until she has done it; undefined: not after this message */
	private hoursUntilDone(person: PersonRow, task: SimulatedTask, day: number, isHers: boolean): number | undefined {
		const { seed } = this.programme;
		const character = this.characters.get(person.id);
		if (!character) return supervisorHours(seed, person.code, task.kind, day);
		if (!isHers) return undefined;
		return answerHours(seed, character, person.code, task.kind, day);
	}

	private async takeUpWork(nowMs: number): Promise<void> {
		const due = this.expected.filter(({ atMs }) => atMs <= nowMs);
		if (due.length === 0) return;
		this.expected = this.expected.filter(({ atMs }) => atMs > nowMs);
		for (const one of due.sort((a, b) => a.atMs - b.atMs || (a.task.code < b.task.code ? -1 : 1))) await this.take(one, nowMs);
	}

	private async take({ task, person }: Expected, nowMs: number): Promise<void> {
		const { store, replies, answers } = this.services;
		const [open] = await store.query<{ assigneeId: string | null }>(
			"SELECT assignee_id FROM task WHERE id = $1 AND state = 'open'",
			[task.id],
		);
		if (!open) return;
		// Whoever is ill takes it up when she is well again, if nobody has done it by then.
		if (this.characters.has(person.id) && isIll(this.programme.seed, person.code, dayOf(nowMs))) {
			this.expected.push({ task, person, atMs: nowMs + DAY_MS });
			return;
		}
		const sent = await this.work.do(task, person);
		if (sent === undefined) return;
		if (open.assigneeId === person.id) {
			const channelMessageId = `simulated-${++this.received}`;
			const body = `${task.code} ${sent}`;
			await replies.receive({ channel: "simulated", channelMessageId, fromAddress: person.phoneE164 ?? "", body });
			return;
		}
		const answer =
			sent === "done" || sent === "cannot"
				? ({ kind: sent } as const)
				: ({ kind: "reading", reading: sent, takenAtMs: nowMs } as const);
		try {
			await answers.take(task.id, answer, person.id);
		} catch (error) {
			// What she did beside it has closed it.
			if (!(error instanceof InputError)) throw error;
		}
	}

	/** What a text says of a jar's doses is written on the jar; what it says of a household's, its volunteer shows there. */
	private async hearDoses(arrived: readonly Outgoing[]): Promise<void> {
		for (const { messageId, text } of arrived) {
			if (!text.includes(" mL") && !text.startsWith("Household ")) continue;
			const [row] = await this.services.store.query<{ fill: string }>("SELECT fill FROM message WHERE id = $1", [messageId]);
			const { jar, doses, household, times } = JSON.parse(row?.fill ?? "{}") as Partial<HeardFill>;
			if (jar !== undefined && doses !== undefined) this.told.hear(jar, doses);
			if (household !== undefined && times !== undefined) this.told.hearHousehold(household, times);
		}
	}

	/** @returns the open tasks that messages tell of, alone or together, with whom they were told */
	private async toldBy(arrived: readonly Outgoing[]): Promise<{ task: SimulatedTask; personId: string; isHers: boolean }[]> {
		const byMessage = new Map(arrived.map(({ messageId, recipient }) => [messageId, recipient.personId]));
		const marks = [...byMessage.keys()].map((_, i) => `$${i + 1}`).join(", ");
		const rows = await this.services.store.query<
			Omit<SimulatedTask, "brief"> & { brief: string; told: string; assigneeId: string | null; text: string }
		>(
			`SELECT t.id, t.code, t.kind, t.subject_id, t.brief, t.assignee_id, COALESCE(m.digest_id, m.id) AS told, m.text FROM message m JOIN task t ON t.id = m.task_id
			 WHERE t.state = 'open' AND (m.id IN (${marks}) OR (m.digest_id IN (${marks}) AND m.state = 'merged')) ORDER BY m.created_at_ms, m.id`,
			[...byMessage.keys()],
		);
		return rows.flatMap(({ told, assigneeId, text: _, brief, ...task }) => {
			const personId = byMessage.get(told);
			if (personId === undefined) return [];
			return [{ task: { ...task, brief: JSON.parse(brief) }, personId, isHers: assigneeId === personId }];
		});
	}
}
