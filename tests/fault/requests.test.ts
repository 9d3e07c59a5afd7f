import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { Sealer } from "../../src/ledger/sealer.js";
import { verifyLedger } from "../../src/ledger/verify.js";
import { SeededRandomness } from "../../src/time/randomness.js";
import { threeParts } from "../access/parts.js";
import { GATEWAY_SECRET, KEY, type Served, served } from "../api/served.js";
import { databasesHere } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { GeneratedForms } from "./generated-forms.js";
import { GeneratedRequests } from "./generated-requests.js";
import { brokenInvariants } from "./invariants.js";
import { completed } from "./points/completed.js";
import { type RequestCaller, requestCallers } from "./request-callers.js";

/** A hundred thousand by hand: JARWATCH_TEST_REQUESTS=100000. */
const REQUESTS = Number(process.env["JARWATCH_TEST_REQUESTS"] ?? 2000);
const SEED = Number(process.env["JARWATCH_TEST_SEED"] ?? 2026);
const LONGEST_MS = 2000;
/** What a run may hold more after its first third than at its end. */
const MOST_GROWTH_MB = 40;
/** From one request to the next. */
const STEP_MS = 20_000;
/** What is due is opened, and the ledger sealed, after so many. */
const ROUND = 250;
/** Of pages and their forms. */
const PAGES_SHARE = 0.3;

setFlagsFromString("--expose-gc");
const collected = runInNewContext("gc") as () => void;

/** A PDF is printed by a browser of its own, which takes seconds whatever is asked. */
const LEFT_OUT = ["/reports/monthly.pdf"];

describe.each(databasesHere())(
	"requests made of the service's own description and of its pages' forms, and spoilt, on %s",
	(kind) => {
		it(
			`are answered, ${REQUESTS} of them by people of every role, keys and nobody, with no 5xx, as the description says, none after ${LONGEST_MS} ms; nothing is half written, the ledger agrees, and nothing piles up in memory`,
			async () => {
				const api = await served(kind, { apiKey: KEY, inboundSecret: GATEWAY_SECRET }, { withPages: true });
				try {
					const { world } = api;
					const { store } = world;
					await threeParts(store);
					await completed(world);
					await aBatch(world);
					const callers = await requestCallers(world);
					const visitors = callers.filter(({ isSignedIn, isKnown }) => isSignedIn || !isKnown);
					// Invented entries that no unit of work has made.
					const { findings: foundBefore } = await verifyLedger(store);
					const routes = describedRoutes(api);
					expect(routes.length).toBeGreaterThan(100);
					const chance = new SeededRandomness(SEED);
					const requests = new GeneratedRequests(api.document, routes, chance);
					const forms = new GeneratedForms(api.routes.known, chance);
					const wrong: string[] = [];
					const answers = new Answers();
					let longestMs = 0;
					let heapMb = 0;
					for (let n = 0; n < REQUESTS; n++) {
						const isPage = chance.fraction() < PAGES_SHARE;
						const asking = isPage ? visitors : callers;
						const caller = asking[chance.below(asking.length)] as RequestCaller;
						const { method, url, asked, how } = isPage ? forms.next(caller) : requests.next(caller.names);
						const headers = { ...asked.headers, ...(isPage || caller.name === "the operator" ? {} : caller.headers) };
						const what = `${n}: ${caller.name}: ${method} ${url} ${how.join(", ")} ${JSON.stringify(asked).slice(0, 1500)}`;
						const ask = () => api.ask(method, url, { ...asked, headers });
						try {
							const startMs = performance.now();
							const { status, text, headers: told } = await ask();
							let tookMs = performance.now() - startMs;
							if (status >= 500)
								wrong.push(
									`${what}: ${status} ${JSON.stringify(api.lines.filter(({ level }) => Number(level) >= 40)).slice(0, 1500)}`,
								);
							answers.add(caller.name, isPage ? `page ${method}` : "route", status);
							if (isPage && String(told["content-type"]).startsWith("text/html")) forms.saw(caller, text);
							const isOut = status === 401 || told["location"] === "/sign-in";
							if (isOut && caller.isKnown) await caller.enter();
							if (tookMs > LONGEST_MS) {
								// The machine may have been busy with another's work.
								const againMs = performance.now();
								await ask();
								tookMs = Math.min(tookMs, performance.now() - againMs);
							}
							if (tookMs > LONGEST_MS) wrong.push(`${what}: took ${Math.round(tookMs)} ms`);
							longestMs = Math.max(longestMs, tookMs);
						} catch (error) {
							wrong.push(`${what}: ${(error as Error).message}`);
						}
						api.lines.length = 0;
						world.clock.advance(STEP_MS);
						if (n % ROUND === ROUND - 1) {
							await world.sweep.openDue();
							await world.the(Sealer).seal();
						}
						if (n === Math.floor(REQUESTS / 3)) heapMb = heapUsedMb();
					}
					const growthMb = heapUsedMb() - heapMb;
					console.log(
						`${kind}: ${REQUESTS} requests, ${Math.round(100 * (1 - PAGES_SHARE))} % of them to ${routes.length} routes and the others to pages, seed ${SEED}; the longest ${Math.round(longestMs)} ms; heap grew by ${growthMb.toFixed(1)} MB over the last two thirds\n${answers.told()}`,
					);
					expect(wrong.slice(0, 20)).toEqual([]);
					expect(answers.withLittleDone(callers)).toEqual([]);
					expect(growthMb).toBeLessThan(MOST_GROWTH_MB);
					expect(await brokenInvariants((statement) => store.query(statement))).toEqual({});
					await world.the(Sealer).seal();
					const { findings, entries } = await verifyLedger(store);
					expect(findings).toEqual(foundBefore);
					expect(entries).toBeGreaterThan(REQUESTS / 50);
				} finally {
					await api.close();
				}
			},
			120_000 + REQUESTS * 200,
		);
	},
);

function describedRoutes({ document, routes }: Served) {
	const described = (method: string, pattern: string) =>
		document.paths[pattern.replace(/:(\w+)/g, "{$1}")]?.[method.toLowerCase()] !== undefined;
	return routes.known.filter(({ method, pattern }) => described(method, pattern) && !LEFT_OUT.includes(pattern));
}

/** How many were answered how, by who asked and of what. */
class Answers {
	private readonly counts = new Map<string, Map<string, number>>();

	add(caller: string, of: string, status: number): void {
		const key = `${caller}, ${of}`;
		const known = this.counts.get(key) ?? new Map<string, number>();
		this.counts.set(key, known.set(String(status), (known.get(String(status)) ?? 0) + 1));
	}

	told(): string {
		const line = (statuses: ReadonlyMap<string, number>) =>
			[...statuses]
				.sort(([a], [b]) => a.localeCompare(b))
				.map(([status, count]) => `${status}: ${count}`)
				.join(", ");
		return [...this.counts]
			.sort(([a], [b]) => a.localeCompare(b))
			.map(([key, statuses]) => `${key}: ${line(statuses)}`)
			.join("\n");
	}

	/** @returns those who have something to do, and for whom less than one route or page in forty did anything */
	withLittleDone(callers: readonly RequestCaller[]): string[] {
		return callers.flatMap(({ name, isSignedIn, isKnown }) =>
			[...(isKnown ? ["route"] : []), ...(isSignedIn ? ["page GET", "page POST"] : [])].flatMap((of) => {
				const statuses = this.counts.get(`${name}, ${of}`) ?? new Map<string, number>();
				const sum = (isGood: (status: number) => boolean) =>
					[...statuses].reduce((all, [status, count]) => all + (isGood(Number(status)) ? count : 0), 0);
				return sum((status) => status < 400) * 40 >= sum(() => true) && sum(() => true) > 0 ? [] : [`${name}, ${of}`];
			}),
		);
	}
}

function heapUsedMb(): number {
	collected();
	return process.memoryUsage().heapUsed / 1e6;
}
