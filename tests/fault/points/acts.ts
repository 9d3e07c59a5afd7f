import { TOTP } from "otpauth";
import { isRule } from "../../../src/access/rules.js";
import { formTokenOf, Sessions } from "../../../src/access/sessions.js";
import { Assignments } from "../../../src/assignment/assignments.js";
import { Proposals } from "../../../src/assignment/proposals.js";
import { HeadMail } from "../../../src/audit/head-mail/head-mail.js";
import { Incidents } from "../../../src/audit/incidents/incidents.js";
import { IncidentTelling } from "../../../src/audit/incidents/telling.js";
import { AbsenceDays } from "../../../src/duties/absence-days.js";
import { CalendarFeeds } from "../../../src/duties/calendar.js";
import { DoseNews } from "../../../src/duties/dose-news.js";
import { LongWaiting } from "../../../src/duties/long-waiting.js";
import { PageAnswers } from "../../../src/duties/page-answers.js";
import { Withheld } from "../../../src/duties/withheld.js";
import { Heads } from "../../../src/ledger/heads.js";
import { Sealer } from "../../../src/ledger/sealer.js";
import { Dispatcher } from "../../../src/messages/dispatcher.js";
import { StoredPushSubscriptions } from "../../../src/messages/push-subscriptions.js";
import { Receipts } from "../../../src/messages/receipts.js";
import { Clearing } from "../../../src/personal/clearing.js";
import { Erasure } from "../../../src/personal/erasure.js";
import { DAY_MS, HOUR_MS } from "../../../src/time/clock.js";
import { HouseholdProtocols } from "../../../src/water/protocol/household-protocol.js";
import { shippedProtocols } from "../../../src/water/protocols/shipped.js";
import { askedOf } from "../../access/asked-of.js";
import { namesOf } from "../../access/parts.js";
import { type Accessible, PASSWORD } from "../../access/people.js";
import { GATEWAY_SECRET } from "../../api/served.js";
import { climateCells, fileOf } from "../../programme/files.js";
import { aMessage } from "../../support/builders.js";
import { named, refusedForNow, TestNotifier } from "../../support/notifiers.js";
import type { World } from "../../support/world.js";

const OTHER_PASSWORD = "nine buckets at the well";
const FORM = { "content-type": "application/x-www-form-urlencoded" };

/** Something that the program does, and that may be begun again after it has failed. */
export type Act = readonly [name: string, act: () => Promise<unknown>];

/** People who sign in, choose passwords, use second factors and keys, and sign out. */
export function accessActs(api: Accessible): Act[] {
	const browser = api.browser();
	const other = api.browser();
	const volunteer = api.browser();
	let accountId = "";
	let secret = "JBSWY3DPEHPK3PXP";
	let apiKey = { id: "", secret: "" };
	const post = (url: string, body: object = {}) => api.ask("POST", url, { body });
	const change = (password: string, newPassword: string) =>
		browser.ask("POST", "/account/password", { body: { password, newPassword } });
	// Each try uses up a code.
	const signedInByCode = async () => {
		const asked = await volunteer.ask("POST", "/sign-in-codes", { body: { to: "+447700900002" } });
		if (asked.status === 503) return asked;
		const oneTimeCode = (await api.sent("signIn.code"))[0]?.["oneTimeCode"];
		return volunteer.ask("POST", "/sessions/by-code", { body: { to: "+447700900002", code: oneTimeCode } });
	};
	const code = () => new TOTP({ secret }).generate({ timestamp: api.world.clock.nowMs() });
	const way = async () => (await api.sent("signIn.password"))[0]?.["way"];
	return [
		["an account is made", () => post("/accounts", { login: "anna", personCode: "sup" })],
		["its password is chosen", async () => post("/password", { code: await way(), password: PASSWORD })],
		["signing in", () => browser.signIn("anna")],
		["signing in elsewhere", () => other.signIn("anna")],
		["a wrong password", () => browser.signIn("anna", "five jars in the sun")],
		["using a session some minutes later", () => later(6 * 60_000, () => browser.ask("GET", "/account"))],
		[
			"a second factor is prepared",
			async () => {
				const { body } = await browser.ask("POST", "/account/second-factor", { body: { password: PASSWORD } });
				secret = body?.secret ?? secret;
			},
		],
		["it is confirmed", () => browser.ask("POST", "/account/second-factor/confirm", { body: { code: code() } })],
		["signing in with it", () => later(60_000, () => other.signIn("anna", PASSWORD, code()))],
		["it is switched off", () => browser.ask("POST", "/account/second-factor/off", { body: { password: PASSWORD } })],
		[
			"a password is changed",
			async () => {
				const { status } = await change(PASSWORD, OTHER_PASSWORD);
				// One that failed in its second half has changed it.
				if (status !== 200 && status !== 503) await change(OTHER_PASSWORD, PASSWORD);
			},
		],
		["a password is forgotten", () => browser.ask("POST", "/password/forgotten", { body: { login: "anna" } })],
		["other sessions end", () => browser.ask("POST", "/sessions/others/end")],
		["this session ends", () => browser.ask("POST", "/sessions/current/end")],
		[
			"a code is asked for",
			() => later(61 * 60_000, () => volunteer.ask("POST", "/sign-in-codes", { body: { to: "+447700900002" } })),
		],
		["a wrong code", () => volunteer.ask("POST", "/sessions/by-code", { body: { to: "+447700900002", code: "000000" } })],
		["the right code", () => later(25 * 60 * 60_000, signedInByCode)],
		[
			"a volunteer leaves by a page",
			async () => {
				const { world } = api;
				const { secret } = await world.store.work.run((tx) => world.the(Sessions).begin(tx, { personId: "vol" }, undefined));
				const headers = { ...FORM, authorization: "", cookie: `session=${secret}` };
				return api.ask("POST", "/sign-out", { raw: new URLSearchParams({ token: formTokenOf(secret) }).toString(), headers });
			},
		],
		[
			"one session ends by its id",
			async () => {
				const [session] = await api.world.store.query<{ id: string }>("SELECT id FROM session LIMIT 1");
				return volunteer.ask("POST", `/sessions/${session?.id}/end`);
			},
		],
		["all of a person's sessions end", () => post("/people/vol/sessions/end")],
		[
			"a key is made",
			async () => {
				const { body } = await post("/api-keys", { name: "invented", scopes: ["read"], areaCode: "A1" });
				if (body?.id) apiKey = { id: body.id, secret: body.key };
			},
		],
		[
			"the key is used",
			() => later(DAY_MS, () => api.ask("GET", "/tasks", { headers: { authorization: `Bearer ${apiKey.secret}` } })),
		],
		["the key is revoked", () => post(`/api-keys/${apiKey.id}/revoke`)],
		[
			"an account's sessions end",
			async () => {
				const [account] = await api.world.store.query<{ id: string }>("SELECT id FROM account WHERE login = 'anna'");
				accountId = account?.id ?? "";
				return post(`/accounts/${accountId}/sessions/end`);
			},
		],
		["an account is given a new way in", () => post(`/accounts/${accountId}/password-code`)],
		["its second factor is taken away", () => post(`/accounts/${accountId}/second-factor/off`)],
		["an account is closed", () => post(`/accounts/${accountId}/state`, { isActive: false })],
	];

	async function later<T>(ms: number, act: () => Promise<T>): Promise<T> {
		api.world.clock.advance(ms);
		return act();
	}
}

/** Their services' units of work come by no other act: under a key for repeats they would join the unit that keeps the answer. */
const ALONE = new Set([
	"POST /assignment-proposals/:id/accept",
	"POST /batches/:code/moves",
	"POST /batches/:code/strength-tests",
	"POST /containers/:code/emptied",
	"POST /doses",
	"POST /incidents/:id/look-into",
	"POST /people/:code/consents",
	"POST /protocols/:code/:version/households",
	"POST /tasks/:code/hand-over",
]);

/** Every route that takes a change, asked as its sample has it; some under a key for repeats. */
export function routeActs(api: Accessible): Act[] {
	const names = namesOf("near");
	const { world } = api;
	const routes = api.routes.known.filter(({ access, method }) => isRule(access) && ["POST", "PUT"].includes(method));
	return routes.map((route, i) => {
		const { key, url, asked } = askedOf(route, names);
		const isKeyed = route.method === "POST" && i % 3 === 0 && !ALONE.has(key);
		const headers: Record<string, string> = isKeyed ? { "idempotency-key": `"${key}"` } : {};
		return [
			key,
			async () => {
				// A key that a failed request has left at work is free again then.
				if (isKeyed) world.clock.advance(61_000);
				await api.ask(route.method as "POST", url, { ...asked, headers: { ...asked.headers, ...headers } });
				await solved(world);
			},
		];
	});
}

/** What no sample comes as far as: each of a kind whose own unit of work begins there. */
export function furtherActs(api: Accessible): Act[] {
	const { world } = api;
	const { store, clock } = world;
	const post = (url: string, body: object = {}) => api.ask("POST", url, { body });
	const [protocol] = shippedProtocols;
	return [
		["a task of another's is taken note of", () => post("/tasks/OUT1/acknowledge")],
		["it is given to somebody", () => post("/tasks/OUT1/hand-over", { toPersonCode: "MINE-V" })],
		["a proposal is turned down", () => post("/assignment-proposals/outproposal/reject")],
		[
			"an auditor tells of a visit",
			() => {
				const visitedAt = new Date(clock.nowMs()).toISOString();
				return post("/audit-samples/outsample/visits/OUT-H/result", { outcome: "absent", visitedAt, byPersonCode: "MINE-V" });
			},
		],
		[
			"chosen households are given to nobody",
			() => world.the(Assignments).assignChosen([{ householdCode: "MINE-H", volunteerCode: "MINE-V" }], null),
		],
		["a household's protocol is asked for", () => world.the(HouseholdProtocols).of("MINE-H")],
		[
			"households are moved to a protocol by name",
			() => {
				const { code, version } = protocol;
				return post(`/protocols/${code}/${version}/households`, { householdCodes: ["OUT-H"], why: "invented" });
			},
		],
		["a protocol is taken in", () => post("/protocols", { ...protocol, code: "invented" })],
		[
			"the rules are changed",
			async () => {
				const { rules } = (await api.ask("GET", "/programme")).body;
				return api.ask("PUT", "/programme", { body: { name: "An invented programme", rules }, headers: { "if-match": "*" } });
			},
		],
		[
			"a file under a key for repeats",
			() => {
				// A key that a failed request has left at work is free again then.
				clock.advance(61_000);
				const areas = fileOf("areas", `A8,Invented,,UTC,0,0,0,${climateCells("30", "22", "0.4")}`);
				return api.ask("POST", "/imports/areas", {
					raw: areas,
					headers: { "content-type": "text/csv", "idempotency-key": '"areas"' },
				});
			},
		],
		[
			"a dose is to be told anew",
			() =>
				store.work.run((tx) =>
					tx.affected(
						"INSERT INTO dose_told (batch_id, due_at_ms) VALUES ('OUT-B', $1) ON CONFLICT (batch_id) DO UPDATE SET due_at_ms = $1",
						[clock.nowMs()],
					),
				),
		],
		["it is told", () => world.the(DoseNews).tell()],
		["somebody will be away", () => post("/people/OUT-V/hand-over", { reason: "on leave", from: dateIn(clock.nowMs(), 1) })],
		[
			"she is, from the next day on",
			async () => {
				clock.advance(2 * DAY_MS);
				await world.the(AbsenceDays).pass();
				await solved(world);
			},
		],
		["somebody without work is erased", () => world.the(Erasure).erase("OUT-S", "office")],
	];
}

const dateIn = (nowMs: number, days: number) => new Date(nowMs + days * DAY_MS).toISOString().slice(0, 10);

/** What is solved beside the request that asked for it would go on into the next act. */
async function solved(world: World): Promise<void> {
	const { solving } = world.the(Proposals) as unknown as { solving: ReadonlyMap<string, unknown> };
	while (solving.size > 0) await new Promise((resolve) => setTimeout(resolve, 5));
}

/** What comes from outside, and what the rounds of the scheduler, the dispatcher and the night do. */
export function roundActs(api: Accessible, sms: TestNotifier, email: TestNotifier): Act[] {
	const { world } = api;
	const { store, clock, randomness, ids } = world;
	const log = { debug() {}, info() {}, warn() {}, error() {} };
	const gateway = { "x-inbound-secret": GATEWAY_SECRET };
	const dispatcherBy = (channel: TestNotifier) =>
		new Dispatcher(
			{ store, clock, randomness, ids, notifiers: named(channel), log },
			{ leaseMs: 60_000, sendTimeoutMs: 15_000, sendTries: 7, sendConcurrency: 4, sendRates: { sms: 1000 } },
		);
	const dispatcher = dispatcherBy(sms);
	const head = { headTo: ["office@example.org"], headEveryDays: 7, publicUrl: undefined, sendTimeoutMs: 1000, leaseMs: 60_000 };
	const mail = new HeadMail({ store, clock, ids, randomness, heads: world.the(Heads), email, log }, head);
	const oneTask = async () =>
		(await store.query<{ id: string; code: string }>("SELECT id, code FROM task WHERE state = 'open' LIMIT 1"))[0];
	const later = (ms: number, act: () => Promise<unknown>) => async () => {
		clock.advance(ms);
		return act();
	};
	const areas = fileOf("areas", `A7,Invented,,UTC,0,0,0,${climateCells("30", "22", "0.4")}`);
	const csv = { "content-type": "text/csv" };
	return [
		["a file of areas", () => api.ask("POST", "/imports/areas", { raw: areas, headers: csv })],
		["what is due is opened", later(10 * DAY_MS, () => world.sweep.openDue())],
		["ladders are climbed", later(2 * DAY_MS, () => world.escalation.climb())],
		["what was held goes", later(HOUR_MS, () => world.sweep.openDue())],
		["a message is written", async () => aMessage(store, { recipientId: "vol", text: "jar.weak", nextTryAtMs: clock.nowMs() })],
		["messages go out", () => dispatcher.dispatchReady()],
		["messages go out after a rest", later(HOUR_MS, () => dispatcher.dispatchReady())],
		[
			"messages are refused for now",
			async () => {
				await aMessage(store, { recipientId: "vol", text: "jar.weak", nextTryAtMs: clock.nowMs() });
				// One anew each time: after some refusals it would leave the channel alone.
				await dispatcherBy(new TestNotifier("sms", refusedForNow)).dispatchReady();
			},
		],
		[
			"a text comes in",
			async () =>
				world.replies.receive({
					channel: "sms",
					channelMessageId: "one",
					fromAddress: "+447700900002",
					body: `${(await oneTask())?.code} 2`,
				}),
		],
		[
			"a text that says nothing",
			() => world.replies.receive({ channel: "sms", channelMessageId: "two", fromAddress: "+447700900002", body: "what?" }),
		],
		[
			"receipts come in",
			() =>
				world
					.the(Receipts)
					.take([{ channel: "sms", channelMessageId: "r1", state: "delivered", reason: null, atMs: clock.nowMs() }]),
		],
		["what has waited for long is taken back", later(2 * HOUR_MS, () => world.the(LongWaiting).takeBack())],
		["doses are told", () => world.the(DoseNews).tell()],
		["incidents are looked for", () => world.the(Incidents).look()],
		["incidents are told", () => world.the(IncidentTelling).tell()],
		["forecasts are made anew", () => world.anew.work(() => true)],
		[
			"a browser wants messages",
			() => world.the(StoredPushSubscriptions).add("vol", { endpoint: "https://push.example.org/9", p256dh: "p", auth: "a" }),
		],
		["it wants none any more", () => world.the(StoredPushSubscriptions).remove("https://push.example.org/9")],
		["a calendar's address is made", () => world.the(CalendarFeeds).issue("vol")],
		["it is ended", () => world.the(CalendarFeeds).revoke("vol")],
		["all is withheld", () => world.the(Withheld).withhold()],
		[
			"one of it is let go",
			async () => {
				const [one] = await store.query<{ id: string }>("SELECT id FROM message WHERE state = 'withheld' LIMIT 1");
				return world.the(Withheld).release(one?.id ?? "none");
			},
		],
		["all is let go", () => world.the(Withheld).releaseAll()],
		["the ledger is sealed", () => world.the(Sealer).seal()],
		["its head is mailed", later(8 * DAY_MS, () => mail.post())],
		["the night clears", later(400 * DAY_MS, () => world.the(Clearing).ofToday())],
		["a person is erased", () => world.the(Erasure).erase("NEAR-V", "office")],
		[
			"a gateway hands in a text",
			() =>
				api.ask("POST", "/replies/sms", { headers: gateway, body: { messageId: "three", from: "+447700900002", text: "HELP" } }),
		],
		[
			"a task is answered on a page",
			async () => {
				const task = await oneTask();
				return world.the(PageAnswers).take({
					taskId: task?.id ?? "none",
					personId: "vol",
					key: "one",
					means: "done",
					reading: "",
					because: "",
					answeredAtMs: null,
				});
			},
		],
	];
}
