import { readdirSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { configureApi } from "../../src/api/configure.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import { appModule } from "../../src/app.module.js";
import { DemoClock, demoDays } from "../../src/demo/demo.js";
import { type District, district } from "../../src/demo/district.js";
import { DemoNotifier } from "../../src/demo/notifier.js";
import { demoStartMs } from "../../src/demo/run.js";
import { simulatedPeople } from "../../src/demo/volunteers.js";
import { Replies } from "../../src/duties/replies.js";
import { entities } from "../../src/entities.js";
import { newLog } from "../../src/log/log.js";
import { type Delivery, Notifier, type Outgoing } from "../../src/messages/notifier.js";
import { StoredPushSubscriptions } from "../../src/messages/push-subscriptions.js";
import { Receipts } from "../../src/messages/receipts.js";
import { settingsFrom } from "../../src/settings/settings.js";
import { Store } from "../../src/store/store.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { lookingFor } from "../support/looking-for.js";
import { newDatabase, onEachDatabase, TEST_KEY } from "../support/stores.js";

const KEY = "an-invented-key-of-thirty-two-ch";
const START = 7;
const DAYS = 6;

/** A channel that says back whom it wrote to, as gateways do. */
class Talkative extends Notifier {
	readonly name = "demo";

	constructor(private readonly inner: DemoNotifier) {
		super();
	}

	async send(message: Outgoing, signal: AbortSignal): Promise<Delivery> {
		const { phoneE164, email } = message.recipient;
		const delivery = await this.inner.send(message, signal);
		const said = `${phoneE164} ${phoneE164?.slice(1)} 0${phoneE164?.slice(3)} ${email}`;
		return delivery.kind === "accepted"
			? { ...delivery, answer: `queued for ${said}`, channelMessageIds: [`c-${message.messageId}`] }
			: { ...delivery, reason: `can't reach ${said}` };
	}
}

/** First names that stand for nothing else, so that finding one means a person. */
const NAMES = ["Zawadi", "Qhawe", "Xolisile", "Nthabiseng", "Wubishet", "Kgothatso", "Oluwaseun", "Ngozichukwu"];

function unmistakable(place: District): District {
	const people = place.people.map((person, n) => ({
		...person,
		name: `${NAMES[n % NAMES.length]}${String.fromCharCode(97 + n)} Mbekhwana`,
		email: `zz.mailbox${n}@mail.example.org`,
	}));
	return { ...place, people };
}

onEachDatabase("after a whole run", (kind) => {
	it("no name, no number and no e-mail of anybody lies open in the database, in its files or in the log, in whatever spelling", async () => {
		const database = await newDatabase(kind);
		const lines: string[] = [];
		const log = newLog("debug", { write: (line: string) => void lines.push(line) });
		const startAtMs = demoStartMs(Date.UTC(2026, 2, 20), DAYS);
		const place = unmistakable(district({ start: START, startAtMs }));
		const clock = new DemoClock(startAtMs, () => Date.UTC(2026, 2, 20));
		const notifier = new DemoNotifier(simulatedPeople(place), new Talkative(undefined as never));
		const where = kind === "sqlite" ? { dataFolder: dirname(database.location) } : { databaseUrl: database.location };
		const settings = { ...settingsFrom({ JARWATCH_DATA_KEY: TEST_KEY, JARWATCH_API_KEY: KEY }), ...where };
		const app = await NestFactory.create<NestFastifyApplication>(
			appModule(settings, { log, clock, randomness: new SeededRandomness(1), notifiers: [new Talkative(notifier)] }),
			fastifyAdapter(),
			{ logger: false, bodyParser: false, abortOnError: false },
		);
		configureApi(app, settings, log);
		await app.init();
		await demoDays(app, clock, notifier, place, { start: START, startAtMs, days: DAYS });
		const stranger = "+447700900987";
		const volunteer = place.people.find(({ role }) => role === "volunteer") as District["people"][number];
		const replies = app.get(Replies);
		const text = (fromAddress: string, body: string, channelMessageId: string) =>
			replies.receive({ channel: "demo", channelMessageId, fromAddress, body });
		await text(stranger, `I am Mbekhwana, call 07700 900987 or ${stranger}`, "x1");
		await text(volunteer.phoneE164 as string, "ring my sister Mbekhwana on 0044 7700 900 987", "x2");
		await text(volunteer.email as string, "STOP", "x3");
		await app.get(StoredPushSubscriptions).add(volunteer.id, {
			endpoint: "https://push.example.org/Mbekhwana/zz.mailbox",
			p256dh: "p".repeat(87),
			auth: "a".repeat(22),
		});
		const [sent] = await app
			.get(Store)
			.query<{ id: string }>("SELECT id FROM message WHERE state = 'sent' ORDER BY id DESC LIMIT 1");
		await app.get(Receipts).take([
			{
				channel: "demo",
				channelMessageId: `c-${sent?.id}`,
				state: "failed",
				reason: `${stranger} Mbekhwana absent`,
				atMs: startAtMs,
			},
		]);
		const ask = (method: "GET" | "POST", url: string, payload?: string, type = "application/json") =>
			app.inject({
				method,
				url,
				headers: { authorization: `Bearer ${KEY}`, "idempotency-key": `k-${url}`, ...(payload && { "content-type": type }) },
				...(payload && { payload }),
			});
		const header = "code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels,email\n";
		const row = `Z9,volunteer,Zawadiz Mbekhwana,${stranger},en,FIG,,1-5,20:00,06:00,,zz.mailbox99@mail.example.org\n`;
		expect((await ask("POST", "/imports/people", header + row, "text/csv")).statusCode).toBe(200);
		const wrong = row.replace("FIG", "nowhere").replace(stranger, "0044-7700-900-98x");
		expect((await ask("POST", "/imports/people?again=true", header + wrong, "text/csv")).statusCode).toBe(422);
		const listed = await ask("GET", "/people?sort=name&limit=3");
		expect(listed.json().items).toHaveLength(3);
		await ask("GET", `/people?name=Zawadiz%20Mbekhwana&cursor=${listed.json().next}`);
		await ask("GET", "/replies?limit=1000");

		const store = app.get(Store);
		const people = await store.query<{ name: string; phoneE164: string; email: string }>(
			"SELECT name, phone_e164, email FROM person",
		);
		expect(people).toHaveLength(place.people.length + 1);
		const looked = lookingFor({
			numbers: [stranger, ...people.map(({ phoneE164 }) => phoneE164)],
			words: ["Mbekhwana", ...people.map(({ name }) => name.split(" ")[0] as string), "zz.mailbox", "push.example.org"],
		});
		// What is looked for is found where it stands open: this very list, in the spellings that a dump might have.
		expect(looked(JSON.stringify(people)).length).toBeGreaterThan(2 * people.length);
		expect(looked(Buffer.from(JSON.stringify(people)).toString("base64")).length).toBeGreaterThan(0);
		const found: string[] = [];
		const counts = new Map<string, number>();
		for (const { tableName } of store.writer.entityMetadatas) {
			const rows = (await store.writer.query(`SELECT * FROM "${tableName}"`)) as object[];
			counts.set(tableName, rows.length);
			for (const one of looked(JSON.stringify(rows))) found.push(`${tableName}: ${one}`);
		}
		for (const table of ["message", "message_failure", "message_receipt", "reply", "ledger_entry", "task", "idempotency_key"])
			expect([table, (counts.get(table) ?? 0) > 0]).toEqual([table, true]);
		expect(counts.size).toBe(entities.length);
		await app.close();
		if (kind === "sqlite")
			for (const file of readdirSync(dirname(database.location)))
				for (const one of looked(readFileSync(join(dirname(database.location), file)).toString("latin1")))
					found.push(`${file}: ${one}`);
		expect(lines.length).toBeGreaterThan(5);
		for (const one of looked(lines.join("\n"))) found.push(`log: ${one}`);
		expect(found).toEqual([]);
		await database.remove();
	}, 240_000);
});
