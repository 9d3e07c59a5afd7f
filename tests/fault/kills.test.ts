import { databasesHere, servicesHere } from "../support/stores.js";
import { ARRANGEMENTS, type Arrangement } from "./kills/arrangement.js";
import { killedAgainAndAgain, outcomesAtOnce } from "./kills/killing.js";
import { removePackedLife } from "./kills/packed-life.js";

/** A thousand each by JARWATCH_TEST_KILLS=1000. */
const KILLS = Number(process.env["JARWATCH_TEST_KILLS"] ?? 5);
/** At most so long for each; left out: however long it takes. */
const MINUTES = Number(process.env["JARWATCH_TEST_KILL_MINUTES"] ?? Number.POSITIVE_INFINITY);
const SEED = Number(process.env["JARWATCH_TEST_SEED"] ?? 1);
/** On a machine that is busy with much else. */
const LONGEST_MS_A_KILL = 30_000;

afterAll(removePackedLife);

describe.each(ARRANGEMENTS.filter(isHere))("$name, killed (SIGKILL) again and again under load", (arrangement) => {
	it.each([1, 4])(
		`loses nothing, leaves no change half written, and sends again only what a kill has hidden the outcome of, under its key: ${KILLS} kills, %d sends at once`,
		async (sendsAtOnce) => {
			const { wrong, ...figures } = await killedAgainAndAgain(arrangement, {
				kills: KILLS,
				longestMs: MINUTES * 60_000,
				sendsAtOnce,
				seed: SEED,
			});
			console.log(`${arrangement.name}, ${sendsAtOnce} sends at once: ${JSON.stringify(figures)}`);
			expect(wrong).toEqual({});
			expect(figures.mostHidden).toBeLessThanOrEqual(outcomesAtOnce(sendsAtOnce));
			// With one send at once there are never more extra sends than kills.
			expect(figures.extra).toBeLessThanOrEqual(figures.kills * outcomesAtOnce(sendsAtOnce));
			expect(figures.messages).toBeGreaterThan(figures.kills * 5);
		},
		KILLS * LONGEST_MS_A_KILL + 120_000,
	);
});

for (const { name } of ARRANGEMENTS.filter((arrangement) => !isHere(arrangement)))
	it.skip(`${name}, killed again and again: left out, because PostgreSQL or Redis doesn't answer`, () => undefined);

function isHere({ database, redis }: Arrangement): boolean {
	return databasesHere().includes(database) && (!redis || servicesHere().redis);
}
