import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { pino } from "pino";
import { formTokenOf, Sessions } from "../../src/access/sessions.js";
import { configureApi } from "../../src/api/configure.js";
import { fastifyAdapter } from "../../src/api/edge/adapter.js";
import type { Parts } from "../../src/app.module.js";
import { configurePages } from "../../src/pages/configure.js";
import type { Page } from "../../src/pages/page.js";
import type { Settings } from "../../src/settings/settings.js";
import { RETEST } from "../../src/stock/due-work.js";
import { CHECK_WATER, CLEAN_CONTAINER } from "../../src/water/kinds.js";
import type { DatabaseKind } from "../support/stores.js";
import { aBatch, newPlace, settle, type World, worldIn } from "../support/world.js";

/** The whole service with its pages, listening on a port of its own. */
export interface ServedSite {
	readonly world: World;
	readonly address: string;
	readonly pages: readonly Page[];
	/** Signs somebody in without a code: a volunteer by herself, staff by an account. */
	signedIn(personId: string): Promise<{ readonly secret: string; readonly cookie: string; readonly token: string }>;
	/** A page as it is shown, without the random token of its forms. */
	shown(path: string, headers?: Record<string, string>): Promise<{ readonly status: number; readonly text: string }>;
	close(): Promise<void>;
}

export async function servedSite(
	kind: DatabaseKind,
	parts: Partial<Parts> = {},
	settings: Partial<Pick<Settings, "mapTiles">> = {},
): Promise<ServedSite> {
	const place = await newPlace(kind);
	const log = pino({ level: process.env["JARWATCH_TEST_LOG"] ?? "silent" });
	const app = await NestFactory.create<NestFastifyApplication>(place.module(true, { roles: ["api"] }, parts), fastifyAdapter(), {
		bodyParser: false,
		logger: false,
		abortOnError: false,
	});
	const world = worldIn(place, app);
	await settle(world);
	configureApi(app, { apiKey: undefined, inboundSecret: undefined }, log);
	const pages = await configurePages(app, log, settings);
	await app.init();
	await app.listen(0, "127.0.0.1");
	const address = (await app.getUrl()).replace("127.0.0.1", "localhost");
	return {
		world,
		pages,
		address,
		async signedIn(personId) {
			const device = "a browser of the tests";
			const { secret } = await world.store.work.run(async (tx) =>
				app.get(Sessions).begin(tx, await holderOf(world, personId), device),
			);
			return { secret, cookie: `session=${secret}`, token: formTokenOf(secret) };
		},
		async shown(path, headers = {}) {
			const answer = await fetch(address + path, { headers, redirect: "manual" });
			return { status: answer.status, text: withoutToken(await answer.text()) };
		},
		close: () => world.remove(),
	};
}

/** A page without the token of its forms: that is drawn by chance, and may hold any two letters that a test looks for. */
export const withoutToken = (page: string): string => page.replace(/(name="token" value=")[^"]*/g, "$1");

async function holderOf({ store }: World, personId: string): Promise<{ personId: string } | { accountId: string }> {
	const [person] = await store.query<{ role: string }>("SELECT role FROM person WHERE id = $1", [personId]);
	if (person?.role === "volunteer") return { personId };
	const accountId = `account-of-${personId}`;
	await store.work.run((tx) =>
		tx.affected(
			`INSERT INTO account (id, login, person_id, administrator, active, created_at_ms) VALUES ($1, $2, $2, ${store.kind === "postgres" ? "FALSE, TRUE" : "0, 1"}, 0) ON CONFLICT (id) DO NOTHING`,
			[accountId, personId],
		),
	);
	return { accountId };
}

/** Something that went wrong in an area. @returns its id */
export async function putIncident({ store, clock }: World, cause: string, areaId = "area"): Promise<string> {
	const id = `incident-${cause}`;
	await store.work.run((tx) =>
		tx.query(
			`INSERT INTO incident (id, kind, cause_id, subject_kind, subject_id, area_id, happened_at_ms, opened_at_ms, state, found)
			 VALUES ($1, 'messages not delivered', $2, 'person', $2, $3, $4, $4, 'open', $5)`,
			[id, cause, areaId, clock.nowMs(), JSON.stringify({ about: "vol", channel: "console" })],
		),
	);
	return id;
}

/** Households of the volunteer with containers, some of whose water is to be read and some to be cleaned, and two jars. */
export async function putWork(world: World): Promise<void> {
	const { store, clock } = world;
	const nowMs = clock.nowMs();
	await store.work.run(async (tx) => {
		for (let n = 1; n <= 4; n++) {
			await tx.query(
				`INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity, latitude_deg, longitude_deg)
				 VALUES ($1, $1, 'area', 'vol', 5, 'well', $2, $3, $4)`,
				[`H${n}`, n === 3 ? "cloudy" : "clear", -1.5 + n * 0.004, 37 + ((n * 7) % 4) * 0.003],
			);
			await tx.query("INSERT INTO container (id, code, household_id, volume_l, kind) VALUES ($1, $1, $2, $3, 'narrow mouth')", [
				`H${n}-A`,
				`H${n}`,
				n === 2 ? 10 : 20,
			]);
		}
	});
	const { id } = await aBatch(world, "FIG-J12", { madeAtMs: nowMs - 6 * 86_400_000 });
	await aBatch(world, "FIG-J13");
	await store.work.run(async (tx) => {
		const due = async (kind: string, subjectId: string) =>
			tx.query(
				`INSERT INTO due (kind, subject_id, area_id, due_at_ms, cycle) VALUES ($1, $2, 'area', $3, 1)
				 ON CONFLICT (kind, subject_id) DO UPDATE SET due_at_ms = $3`,
				[kind, subjectId, nowMs],
			);
		await due(RETEST, id);
		await due(CHECK_WATER, "H1-A");
		await due(CHECK_WATER, "H2-A");
		await due(CLEAN_CONTAINER, "H3-A");
	});
	await world.sweep.openDue();
}
