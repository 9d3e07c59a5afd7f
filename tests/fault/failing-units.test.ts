import { threeParts } from "../access/parts.js";
import { type Accessible, accessible } from "../access/people.js";
import { TestNotifier } from "../support/notifiers.js";
import { onEachDatabase } from "../support/stores.js";
import { brokenInvariants } from "./invariants.js";
import { type Act, accessActs, furtherActs, roundActs, routeActs } from "./points/acts.js";
import { Armed, everythingIn } from "./points/armed.js";
import { completed } from "./points/completed.js";
import { linesInSource, unitsInSource } from "./points/places.js";

const AT_START = "runs at the start, or as a command by itself, before anything else is at work";
const INVENTED = "fills a database with invented facts before anything else is at work";
const WITHIN = "always joins the unit of work of whoever calls it, and errors are tried in that one";

/** Files with units of work that no act here comes by: how many, and why. */
const ELSEWHERE: Readonly<Record<string, readonly [units: number, why: string]>> = {
	"cli/restore/restored": [1, AT_START],
	"store/sealing/resealed": [1, AT_START],
	"store/sealing/resealed-all": [1, AT_START],
	"store/sealing/taking-up": [4, AT_START],
	"water/protocol/accept": [1, AT_START],
	"demo/load": [1, INVENTED],
	"simulation/at-work": [1, INVENTED],
	"simulation/load": [1, INVENTED],
	"assignment/decisions": [1, WITHIN],
	"stock/batches": [1, WITHIN],
	"api/access/me": [1, "signs out elsewhere once a second factor is on: the same request again is refused before it"],
	"duties/absence-days": [1, "notes an absence that can't be carried out, for which nobody has found a case yet"],
};
/** On SQLite claims and records go with others, in one unit of work of the dispatcher's book. */
const ON_SQLITE = { "messages/claim": 1, "messages/record": 1 };

onEachDatabase("an error at each point of every unit of work and of every send, one after the other", (kind) => {
	let api: Accessible;
	let armed: Armed;
	beforeAll(async () => {
		api = await accessible(kind, { withPages: true });
		await threeParts(api.world.store);
		await completed(api.world);
	}, 120_000);
	afterAll(() => api.close());

	it("leaves nothing half written, and nothing at all where nothing was committed yet; what failed can be done again", async () => {
		const { store } = api.world;
		const sms = new TestNotifier("sms");
		const email = new TestNotifier("email");
		armed = new Armed(store, [sms, email]);
		const wrong: object[] = [];
		let before = await everythingIn(store);
		for (const [name, act] of [
			...routeActs(api),
			...furtherActs(api),
			...accessActs(api),
			...roundActs(api, sms, email),
		] as Act[]) {
			for (let at = 0; ; at++) {
				const { failedAt, points } = await armed.failing(at, () => act().catch(() => undefined));
				const after = await everythingIn(store);
				// What is as it was has been looked at.
				const broken = after === before ? {} : await brokenInvariants((statement) => store.query(statement));
				const wasCommitted = points.slice(0, at + 1).some(({ moment }) => moment === "after commit");
				const isChanged = failedAt !== undefined && !wasCommitted && after !== before;
				if (isChanged || Object.keys(broken).length > 0) wrong.push({ name, failedAt, isChanged, broken });
				before = after;
				if (!failedAt) break;
			}
		}
		expect(wrong).toEqual([]);
	}, 900_000);

	it("came by every place of the source that begins a unit of work, before it, before its commit and after it", () => {
		const missed: Record<string, number> = {};
		for (const line of unitsInSource()) {
			const file = line.replace(/:\d+$/, "");
			if (!armed.seen.has(line)) missed[file] = (missed[file] ?? 0) + 1;
		}
		const known = Object.entries(ELSEWHERE).map(([file, [units]]) => [file, units]);
		expect(missed).toEqual({ ...Object.fromEntries(known), ...(kind === "sqlite" && ON_SQLITE) });
	});
});

it("points stand wherever something is committed or sent: only the unit of work begins transactions, only tries call a channel", () => {
	const files = (pattern: RegExp) => [...new Set(linesInSource(pattern).map((line) => line.replace(/:\d+$/, "")))].sort();
	expect(files(/\b(startTransaction|commitTransaction)\(|["`](BEGIN|COMMIT)\b/)).toEqual([
		"store/sqlite-file",
		"store/unit-of-work",
	]);
	expect(files(/\.send\([^)]*\bsignal\b/)).toEqual(["demo/notifier", "messages/channels/outside", "messages/tries"]);
	expect(files(/state = 'claimed', claim = claim \+ 1/)).toEqual(["messages/claim"]);
});
