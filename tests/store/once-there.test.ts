import { TransientError } from "../../src/errors/errors.js";
import { onceThere } from "../../src/store/once-there.js";

const REFUSED = new TransientError("database-busy", "The database can't be reached at the moment.", {
	cause: new Error("connect ECONNREFUSED 127.0.0.1:5432"),
});

/** A wait of 60 s whose rests go by at once, for a database that is there after so many tries. */
function waiting(awayFor: number, error: Error = REFUSED) {
	let nowMs = 0;
	let tries = 0;
	const lines: [level: string, facts: object, text: string][] = [];
	const said = (level: string) => (facts: object, text: string) => void lines.push([level, facts, text]);
	const there = onceThere(
		async () => {
			tries++;
			if (tries <= awayFor) throw error;
			return "there";
		},
		{
			waitMs: 60_000,
			log: { info: said("info"), warn: said("warn") } as never,
			nowMs: () => nowMs,
			async rest(ms) {
				nowMs += ms;
			},
		},
	);
	return { there, lines, tries: () => tries, nowMs: () => nowMs };
}

describe("a start whose database is away", () => {
	it("says nothing where it is there at once", async () => {
		const { there, lines } = waiting(0);
		expect([await there, lines]).toEqual(["there", []]);
	});

	it("tries again after 0.25, 0.5, 1, 2, 4 and then every 5 s, says so at once and every 15 s, and when it is there", async () => {
		const { there, lines, nowMs } = waiting(9);
		expect(await there).toBe("there");
		expect(nowMs()).toBe(250 + 500 + 1000 + 2000 + 4000 + 4 * 5000);
		const away = "the database can't be reached; the start waits for it, and nothing is answered until then";
		const facts = { givesUpAfterSeconds: 60, reason: "connect ECONNREFUSED 127.0.0.1:5432" };
		expect(lines).toEqual([
			["warn", { waitedSeconds: 0, ...facts }, away],
			["warn", { waitedSeconds: 18, ...facts }, away],
			["info", { waitedSeconds: 28 }, "the database is there"],
		]);
	});

	it("gives up after 60 s, not before and not after, with what was heard last and the setting that says how long", async () => {
		const { there, nowMs } = waiting(1000);
		const error = await there.catch((thrown: unknown) => thrown);
		expect(error).toBeInstanceOf(TransientError);
		expect((error as Error).message).toMatch(/for 60 s.*JARWATCH_START_SECONDS.*connect ECONNREFUSED 127\.0\.0\.1:5432$/);
		expect(nowMs()).toBe(60_000);
	});

	it("doesn't wait for what waiting can't mend", async () => {
		const { there, tries, lines } = waiting(1, new Error("password authentication failed"));
		await expect(there).rejects.toThrow("password authentication failed");
		expect([tries(), lines]).toEqual([1, []]);
	});
});
