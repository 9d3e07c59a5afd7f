import { onEachDatabase } from "../support/stores.js";
import { ARRANGEMENTS, type Arrangement } from "./kills/arrangement.js";
import { killedAgainAndAgain, pointsPassed } from "./kills/killing.js";
import { removePackedLife } from "./kills/packed-life.js";

/** Before a unit of work nothing has happened yet, but for a message's claim and record: the others are tried by JARWATCH_TEST_POINTS=all. */
const isTried = (point: string) => process.env["JARWATCH_TEST_POINTS"] === "all" || !/^before work, (?!messages)/.test(point);

/** Claims, sends and records of reminders, and what else a process does here: all of these must be among the points that it passes. */
const AMONG_THEM = {
	sqlite: ["messages/dispatch-book written"],
	postgres: ["messages/claim claimAlone", "messages/record recordAlone"],
	both: [
		...["channel webhook", "duties/sweep page", "duties/escalation climb", "duties/digests release", "duties/replies receive"],
		...["duties/replies once", "stock/batches register", "stock/stock-moves record", "ledger/sealer sealSome"],
	],
};

afterAll(removePackedLife);

onEachDatabase("a process that ends itself (SIGKILL) at a point", (kind) => {
	it("loses nothing, leaves nothing half written, and sends again only what was sent and not recorded: before each unit of work, its commit and each send, and after them", async () => {
		const arrangement = ARRANGEMENTS.find(({ database, copies }) => database === kind && copies === 1) as Arrangement;
		const passed = await pointsPassed(arrangement);
		const places = [...new Set(passed.map((point) => point.replace(/^[a-z ]+, /, "")))].sort();
		expect(places).toEqual([...AMONG_THEM[kind], ...AMONG_THEM.both].sort());
		const points = passed.filter(isTried);
		const { wrong, ...figures } = await killedAgainAndAgain(arrangement, {
			kills: points.length,
			sendsAtOnce: 1,
			seed: 1,
			points,
		});
		console.log(`${kind}: ${JSON.stringify(figures)}`);
		expect(wrong).toEqual({});
		expect(figures.mostHidden).toBeLessThanOrEqual(1);
		expect(figures.extra).toBeLessThanOrEqual(figures.kills);
	}, 600_000);
});
