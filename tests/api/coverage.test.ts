import { DAY_MS } from "../../src/time/clock.js";
import { inventedFacts, putFacts } from "../audit/coverage-facts.js";
import { onEachDatabase } from "../support/stores.js";
import { START_MS } from "../support/world.js";
import { type Served, served } from "./served.js";

onEachDatabase("coverage over HTTP", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		api.world.clock.moveTo(START_MS + 7 * DAY_MS);
		await putFacts(api.world.store, inventedFacts(21, START_MS + 7 * DAY_MS));
	});
	afterAll(() => api.close());
	const get = async (url: string) => (await api.ask("GET", url)).body;
	const march = "area=NAT&from=2026-03-01&to=2026-03-31";

	it("tells of a period that isn't over up to when it is counted", async () => {
		const { period, area } = await get(`/coverage?${march}`);
		expect(area).toEqual({ code: "NAT", name: "NAT (invented)" });
		expect(period).toEqual({
			...{ from: "2026-03-01", to: "2026-03-31", timeZone: "Africa/Nairobi", isPartial: true },
			...{ fromAt: "2026-02-28T21:00:00.000Z", untilAt: "2026-03-10T05:00:00.000Z" },
		});
	});

	it("tells of the areas next below, of all below, or of none", async () => {
		const codes = async (below: string) =>
			(await get(`/coverage?${march}${below}`)).areas.map(({ code }: { code: string }) => code);
		expect(await codes("")).toEqual(["EAST", "WEST"]);
		expect(await codes("&below=all")).toEqual(["EAST", "EAST-1", "EAST-2", "WEST"]);
		expect(await codes("&below=none")).toEqual([]);
	});

	it("lists the records behind a figure page by page, as many as were counted", async () => {
		const asked = "area=NAT&from=2026-01-01&to=2026-02-28&indicator=residual-positive";
		const [figure] = (await get(`/coverage?${asked}`)).figures;
		for (const [set, count] of [
			["numerator", figure.numerator],
			["denominator", figure.denominator],
			["missing", figure.missing],
			["rest", figure.denominator - figure.numerator],
		]) {
			expect(count).toBeGreaterThan(5);
			const seen: string[] = [];
			for (let next: string | null = ""; next !== null; ) {
				const page: { items: { code: string; areaCode: string }[]; next: string | null } = await get(
					`/coverage/records?${asked}&set=${set}&limit=7${next && `&cursor=${next}`}`,
				);
				seen.push(...page.items.map((item) => item.code));
				next = page.next;
			}
			expect(seen).toEqual([...new Set(seen)].sort());
			expect(seen).toHaveLength(count);
		}
	});

	it("says what each figure means, with the programme's own figures in the words", async () => {
		const { definitions } = await get("/coverage/definitions");
		const positive = definitions.find(({ code }: { code: string }) => code === "residual-positive");
		expect(positive.words).toContain("at least 0.2 mg/L");
		expect(positive.source).toContain("WHO/UNICEF 2012");
	});

	it("by month gives each month's figures", async () => {
		const { months } = await get(`/coverage/months?area=EAST&from=2026-01-15&to=2026-03-31&indicator=tasks-in-time`);
		expect(months.map(({ period }: { period: { from: string; to: string } }) => `${period.from} ${period.to}`)).toEqual([
			"2026-01-15 2026-01-31",
			"2026-02-01 2026-02-28",
			"2026-03-01 2026-03-31",
		]);
	});

	it("by month ends with the month that isn't over, wherever the period does, and begins at most 120 months before", async () => {
		const { months } = await get("/coverage/months?area=EAST&from=2026-02-01&to=9999-12-31&indicator=tasks-in-time");
		expect(months.map(({ period }: { period: { to: string } }) => period.to)).toEqual(["2026-02-28", "2026-03-31"]);
		const longest = await api.ask("GET", "/coverage/months?area=EAST&from=2016-04-01&to=2026-03-31&indicator=tasks-in-time");
		expect([longest.status, longest.body.months.length]).toEqual([200, 120]);
		const refused = await api.ask("GET", "/coverage/months?area=EAST&from=2016-03-31&to=2026-03-31");
		expect([refused.status, refused.body.code, refused.body.errors]).toMatchObject([
			422,
			"invalid-input",
			[{ parameter: "from" }],
		]);
	});

	it("refuses an area, an indicator or a period that can't be, and says which could", async () => {
		const refusal = async (url: string) => {
			const { status, body } = await api.ask("GET", url);
			return [status, body.code, body.errors];
		};
		expect(await refusal("/coverage?area=NONE&from=2026-03-01&to=2026-03-31")).toMatchObject([
			422,
			"unknown-area",
			[{ parameter: "area" }],
		]);
		expect(await refusal(`/coverage?${march}&indicator=joy`)).toMatchObject([
			422,
			"unknown-indicator",
			[{ parameter: "indicator" }],
		]);
		expect(await refusal("/coverage?area=NAT&from=2026-04-01&to=2026-04-30")).toMatchObject([
			422,
			"time-in-future",
			[{ parameter: "from", detail: "must not be after 2026-03-10" }],
		]);
		expect(await refusal("/coverage?area=NAT&from=2026-02-01&to=2026-01-31")).toMatchObject([
			422,
			"invalid-input",
			expect.anything(),
		]);
		expect((await api.ask("GET", "/coverage?area=NAT&from=2026-02-30&to=2026-03-31")).status).toBe(422);
	});
});
