import type { Served } from "../api/served.js";

/** What one happening may draw on: whole numbers from 0 to 9999. */
export type Draws = readonly [number, number, number, number];

/** A programme in one area while a quarter of a year goes by: what people do to it comes in by the interface, right or wrong. */
export class Quarter {
	private named = 0;

	/** @param lists codes of what is on file, as it grows */
	constructor(
		readonly api: Served,
		readonly lists: {
			readonly volunteers: string[];
			readonly containers: string[];
			readonly jars: string[];
			readonly generators: string[];
			readonly households: string[];
			readonly items: string[];
		},
	) {}

	/** @returns one of a list; undefined where it is empty */
	one<T>(list: readonly T[], draw: number): T | undefined {
		return list[draw % Math.max(1, list.length)];
	}

	newCode(letter: string): string {
		return `${letter}${++this.named}`;
	}

	/** @returns status: what was refused has changed nothing, and what was taken is the interface's own to keep right */
	post(path: string, body: unknown): Promise<number> {
		return this.sent("POST", path, body);
	}

	put(path: string, body: unknown): Promise<number> {
		return this.sent("PUT", path, body);
	}

	private async sent(method: "POST" | "PUT", path: string, body: unknown): Promise<number> {
		const { status, text } = await this.api.ask(method, path, { body });
		if (status >= 500) throw new Error(`${method} ${path} ${JSON.stringify(body)} was answered ${status}: ${text}`);
		return status;
	}

	/** @returns an instant up to so many hours ago, and now and then one that lies in the future */
	at(draw: number, hours: number): string {
		const { clock } = this.api.world;
		const agoMs = draw % 20 === 0 ? -3_600_000 : ((draw % 997) / 997) * hours * 3_600_000;
		return new Date(Math.round(clock.nowMs() - agoMs)).toISOString();
	}
}

export type Happening = (on: Quarter, draws: Draws) => Promise<unknown>;

const READINGS = ["0", "0.5", "1", "2", "3", "4", "5", ">5", "12.4", "-1"];

/** Whatever can happen to a programme, by name: a new kind of fact is a line here. */
export const HAPPENINGS: Readonly<Record<string, Happening>> = {
	"a task is answered with a reading": async (on, [pick, value, late]) => {
		const task = await openTask(on, pick);
		if (task)
			await on.post(`/tasks/${task}/answer`, { answer: "reading", reading: on.one(READINGS, value), takenAt: on.at(late, 6) });
	},
	"a task is answered done": async (on, [pick]) => {
		const task = await openTask(on, pick);
		if (task) await on.post(`/tasks/${task}/answer`, { answer: "done" });
	},
	"a task is answered can't": async (on, [pick]) => {
		const task = await openTask(on, pick);
		if (task) await on.post(`/tasks/${task}/answer`, { answer: "cannot" });
	},
	"somebody texts": async (on, [pick, value, who]) => {
		const task = await openTask(on, pick);
		const text = on.one(
			[`${task} ${on.one(READINGS, value)}`, `${value % 7}`, `${task} done`, "can't", "HELP", "the jar is nice"],
			value,
		);
		await on.post("/replies", {
			channel: "sms",
			messageId: on.newCode("text"),
			from: on.one(["+447700900002", "+447700900001", "+447700900999"], who),
			text,
		});
	},
	"a jar is tested unasked": async (on, [jar, reading, sample, when]) =>
		on.post(`/batches/${on.one(on.lists.jars, jar)}/strength-tests`, {
			kit: "comparator 0-5",
			sampleMl: 1 + (sample % 2),
			madeUpToL: 1 + (sample % 3),
			reading: on.one(READINGS, reading),
			testedAt: on.at(when, 48),
		}),
	"a batch is registered": async (on, [strength, volume, when]) => {
		const code = on.newCode("J");
		const status = await on.post("/batches", {
			code,
			areaCode: "A1",
			keeperCode: on.one(on.lists.volunteers, volume),
			madeAt: on.at(when, 24 * 30),
			volumeL: 1 + (volume % 10),
			strengthGPerL: 3 + (strength % 40) / 10,
			phKnowledge: "not measured",
			wall: on.one(["opaque", "clearPlastic"], strength),
			exposure: on.one(["indoors", "directSun"], when),
			litAreaM2: 0.05,
		});
		if (status < 300) on.lists.jars.push(code);
	},
	"bleach is used or spilt": async (on, [jar, volume, kind, when]) =>
		on.post(`/batches/${on.one(on.lists.jars, jar)}/moves`, {
			kind: on.one(["used", "spilt"], kind),
			volumeMl: 1 + (volume % 3000),
			at: on.at(when, 24),
		}),
	"a jar is counted": async (on, [jar, volume]) =>
		on.post(`/batches/${on.one(on.lists.jars, jar)}/moves`, { kind: "counted", volumeMl: volume % 6000 }),
	"a jar is discarded": async (on, [jar, really]) =>
		really % 4 === 0 ? on.post(`/batches/${on.one(on.lists.jars, jar)}/moves`, { kind: "discarded" }) : undefined,
	"a jar is handed over": async (on, [jar, to]) =>
		on.post(`/batches/${on.one(on.lists.jars, jar)}/moves`, {
			kind: "handed over",
			to: { keeperCode: on.one(on.lists.volunteers, to) },
		}),
	"bleach is drawn off": async (on, [jar, to, volume]) => {
		const code = on.newCode("D");
		const into = { code, keeperCode: on.one(on.lists.volunteers, to) };
		const path = `/batches/${on.one(on.lists.jars, jar)}/moves`;
		if ((await on.post(path, { kind: "drawn off", volumeMl: 1 + (volume % 4000), into })) < 300) on.lists.jars.push(code);
	},
	"a container is dosed": async (on, [container, jar, volume, when]) =>
		on.post("/doses", {
			containerCode: on.one(on.lists.containers, container),
			batchCode: on.one(on.lists.jars, jar),
			waterL: 5 + (volume % 25),
			bleachMl: 1 + (volume % 40),
			dosedAt: on.at(when, 12),
		}),
	"water is checked": async (on, [container, value, when]) =>
		on.post("/residual-checks", {
			containerCode: on.one(on.lists.containers, container),
			freeChlorineMgPerL: (value % 80) / 10,
			checkedAt: on.at(when, 12),
		}),
	"a household's habits are asked": async (on, [which, litres, hours]) =>
		on.put(`/households/${on.one(on.lists.households, which)}/habits`, {
			drinkingLPerPersonDay: litres % 25,
			refillEveryHours: 1 + (hours % 200),
		}),
	"a container is cleaned or emptied": async (on, [container, when, what]) => {
		const path = `/containers/${on.one(on.lists.containers, container)}`;
		return what % 2 === 0
			? on.post(`${path}/cleanings`, { cleanedAt: on.at(when, 48) })
			: on.post(`${path}/emptied`, { emptiedAt: on.at(when, 24) });
	},
	"a household moves to another protocol": async (on, [which, protocol]) => {
		const [version] = await on.api.world.store.query<{ code: string; version: number }>(
			`SELECT code, version FROM protocol_version ORDER BY code, version LIMIT 1 OFFSET ${protocol % 3}`,
		);
		const named = version ?? { code: "none", version: 9 };
		return on.post(`/protocols/${named.code}/${named.version}/households`, {
			householdCodes: [on.one(on.lists.households, which)],
		});
	},
	"a generator is run": async (on, [generator, when, salt, minutes]) => {
		const startedAt = on.at(when, 48);
		return on.post(`/generators/${on.one(on.lists.generators, generator)}/runs`, {
			startedAt,
			endedAt: new Date(Date.parse(startedAt) + ((minutes % 300) - 10) * 60_000).toISOString(),
			saltG: salt % 300,
			waterL: 5,
			powerSource: "mains",
			...(salt % 2 === 0 ? { currentA: 2 + (minutes % 12) } : {}),
		});
	},
	"a generator is cared for": async (on, [generator, what]) =>
		on.post(`/generators/${on.one(on.lists.generators, generator)}/care`, {
			works: [on.one(["rinsed", "inspected", "descaled", "electrode replaced", "salt corrected"], what)],
		}),
	"a generator goes out of service or comes back": async (on, [generator, what]) => {
		const path = `/generators/${on.one(on.lists.generators, generator)}`;
		return what % 2 === 0
			? on.post(`${path}/out-of-service`, { reason: "it gives off no gas" })
			: on.post(`${path}/in-service`, {});
	},
	"items are put on file or moved": async (on, [what, quantity, holder]) => {
		const code = on.one(on.lists.items, what);
		if (code && what % 3 > 0) {
			const kind = on.one(["received", "used", "counted", "thrown away"], what);
			return on.post(`/stock-items/${code}/moves`, { kind, quantity: quantity % 3000 });
		}
		const made = on.newCode("I");
		const item = {
			code: made,
			kind: on.one(["salt", "reagent", "syringe"], what),
			quantity,
			generatorCode: on.one(on.lists.generators, holder),
		};
		const status = await on.post("/stock-items", item.generatorCode ? item : { ...item, generatorCode: null, holderCode: "vol" });
		if (status < 300) on.lists.items.push(made);
		return status;
	},
	"a volunteer is away or comes back": async (on, [who, what, to]) => {
		const person = on.one(on.lists.volunteers, who);
		if (what % 4 > 1) return on.post(`/people/${person}/return`, {});
		const toPersonCode = on.one(
			on.lists.volunteers.filter((code) => code !== person),
			to,
		);
		return on.post(`/people/${person}/hand-over`, { reason: "ill", ...(toPersonCode ? { toPersonCode } : {}) });
	},
};

async function openTask(on: Quarter, pick: number): Promise<string | undefined> {
	const open = await on.api.world.store.query<{ code: string }>(
		"SELECT code FROM task WHERE state = 'open' ORDER BY opened_at_ms, id",
	);
	return on.one(open, pick)?.code;
}
