import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { pino } from "pino";
import { AccountRow } from "../../src/access/rows.js";
import { Sessions } from "../../src/access/sessions.js";
import { configureApi } from "../../src/api/configure.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import type { Routes } from "../../src/api/edge/routes.js";
import { configurePages } from "../../src/pages/configure.js";
import { newPlace, START_MS, settle, type World, worldIn } from "../support/world.js";
import { namesOf, type Side, threeParts } from "./parts.js";

/** What somebody sees who isn't signed in: how to be, and how to begin where nobody administers the programme yet. */
const WAYS_IN = ["/", "/sign-in", "/sign-in/staff", "/password", "/setting-up"];

/** What is outside whose part. */
const OUTSIDE: Readonly<Record<string, readonly Side[]>> = {
	"a volunteer": ["near", "out"],
	"a supervisor": ["out"],
	"the health office": ["out"],
};

/** The ledger is one chain: whoever verifies it is told the ids of entries that don't agree, wherever they belong, and nothing of them. */
const namesHidden = (side: Side) =>
	Object.entries(namesOf(side)).flatMap(([kind, name]) => (kind === "ledger entry" ? [] : [name]));

/** One database serves: that statements are the same on both is tried with the routes of the interface. */
describe("every page", () => {
	let world: World;
	let app: NestFastifyApplication;
	let routes: Routes;
	const cookies = new Map<string, string>();

	beforeAll(async () => {
		const place = await newPlace("sqlite");
		const log = pino({ level: "silent" });
		app = await NestFactory.create<NestFastifyApplication>(place.module(true, { roles: ["api"] }), fastifyAdapter(), {
			bodyParser: false,
			logger: false,
			abortOnError: false,
		});
		world = worldIn(place, app);
		await settle(world);
		routes = configureApi(app, { apiKey: undefined, inboundSecret: undefined, requestsPerMinute: 1_000_000 }, log);
		await configurePages(app, log);
		await app.init();
		await app.getHttpAdapter().getInstance().ready();
		await threeParts(world.store);
		cookies.set("a volunteer", await signedIn({ personId: "MINE-V" }));
		cookies.set("a supervisor", await signedIn({ accountId: await account("IN-S") }));
		cookies.set("the health office", await signedIn({ accountId: await account("IN-O") }));
	}, 60_000);
	afterAll(() => world.remove());

	const pages = () =>
		routes.known.filter(({ method, access, pattern }) => method === "GET" && access === "page" && !/\.\w+$/.test(pattern));

	it("shows a stranger the way to sign in, and nothing else", async () => {
		const shown = pages().filter(({ pattern }) => !WAYS_IN.includes(pattern) && !pattern.startsWith("/assets"));
		expect(shown.length).toBeGreaterThan(15);
		for (const { pattern } of shown) {
			const { statusCode, headers } = await ask(pattern.replace(/:\w+/g, "MINE-H"), "");
			expect([pattern, statusCode, headers["location"]]).toEqual([pattern, 303, "/sign-in"]);
		}
	});

	it.each(Object.keys(OUTSIDE))(
		"shows %s nothing of what is outside her part, whatever the address names",
		async (who) => {
			const hidden = OUTSIDE[who]!.flatMap(namesHidden);
			const wrong: string[] = [];
			let seen = 0;
			for (const { pattern } of pages()) {
				const names = pattern.includes(":") ? [...hidden, "MISSING-1", "IN", "MINE-A", "MINE-H", "MINE-V", "MINE-B"] : [""];
				for (const name of names) {
					const { statusCode, body } = await ask(pattern.replace(/:\w+/g, encodeURIComponent(name)), cookies.get(who)!);
					if (statusCode === 500) wrong.push(`${pattern} with ${name} fails`);
					if (statusCode === 200) seen++;
					// The address that was asked for may stand in the page itself.
					const shown = name === "" ? body : body.replaceAll(name, "");
					const told = hidden.filter((other) => other !== name && shown.includes(other));
					if (told.length > 0) wrong.push(`${pattern} with ${name} tells of ${told.join(", ")}`);
					if (statusCode === 200 && hidden.includes(name)) wrong.push(`${pattern} shows ${name}`);
				}
			}
			expect(wrong).toEqual([]);
			expect(seen).toBeGreaterThan(2);
		},
		120_000,
	);

	function ask(url: string, cookie: string) {
		return app.inject({ method: "GET", url, headers: { host: "localhost", ...(cookie && { cookie: `session=${cookie}` }) } });
	}

	function signedIn(holder: { personId: string } | { accountId: string }): Promise<string> {
		return world.store.work.run(async (tx) => (await world.the(Sessions).begin(tx, holder, undefined)).secret);
	}

	async function account(personId: string): Promise<string> {
		const nothing = { passwordHash: null, passwordSetAtMs: null, totpSecret: null, totpSinceMs: null, totpLastStep: null };
		const row = {
			id: personId,
			login: personId,
			personId,
			administrator: false,
			active: true,
			createdAtMs: START_MS,
			...nothing,
		};
		await world.store.work.run((tx) => tx.manager.insert(AccountRow, row));
		return personId;
	}
});
