import { pageTexts } from "../../src/pages/texts.js";
import { onEachDatabase } from "../support/stores.js";
import { putDistrict } from "./district.js";
import { putWork, type ServedSite, servedSite, withoutToken } from "./site.js";

/** What the rules of a sample refuse, each for a reason of its own. */
const NOT_ALLOWED: readonly Readonly<Record<string, string>>[] = [
	{ households: "600" },
	{ aim: "classify", target: "60", lower: "59", alpha: "1", beta: "1" },
	{ from: "2031-01-01", to: "2031-01-31" },
	{ from: "2026-02-20", to: "2026-02-10" },
	{ households: "34", auditor: "", others: "vol" },
];

onEachDatabase("drawing a sample on a page", (kind) => {
	let site: ServedSite;
	let own: { readonly cookie: string; readonly token: string };
	beforeAll(async () => {
		site = await servedSite(kind);
		await putWork(site.world);
		await putDistrict(site.world);
		own = await site.signedIn("off");
	}, 120_000);
	afterAll(() => site.close());

	const get = (path: string) => site.shown(path, { cookie: own.cookie });
	/** What the form holds at first, with what somebody changed. */
	const USUAL = {
		...{ area: "A1", aim: "size", target: "80", lower: "50", alpha: "10", beta: "10", halfWidth: "10", expected: "50" },
		...{ confidence: "95", households: "10", method: "simple", perCluster: "7", correlation: "0.167", others: "" },
		...{ auditor: "office", seed: "", from: "", to: "" },
	};
	const post = async (over: Record<string, string>, token = own.token, language = "en") => {
		const { auditor, ...fields } = { ...USUAL, ...over };
		const body = new URLSearchParams({ token, ...fields });
		if (auditor) body.append("auditor", auditor);
		const answer = await fetch(`${site.address}/office/samples`, {
			method: "POST",
			redirect: "manual",
			headers: { cookie: `${own.cookie}; jarwatch-language=${language}`, "content-type": "application/x-www-form-urlencoded" },
			body: body.toString(),
		});
		return { status: answer.status, to: answer.headers.get("location") ?? "", text: withoutToken(await answer.text()) };
	};
	const samples = async () => (await site.world.store.query("SELECT id FROM audit_sample")).length;
	const drawnOn = (text: string) =>
		[.../<section id="visits">.*/s.exec(text)![0].matchAll(/<th scope="row"><a [^>]*><bdi class="code">(\w+)<\/bdi>/g)].map(
			([, code]) => code,
		);

	it("draws as many as it says, shows the seed, and draws the same households again from it", async () => {
		const first = await post({ seed: "dice-4-1-6" });
		expect([first.status, first.to]).toEqual([303, expect.stringMatching(/^\/office\/samples\/[\w-]+\?is=drawn$/)]);
		const shown = await get(first.to);
		expect(shown.text).toContain("Drawn: 10 households are to be visited.");
		expect(shown.text).toContain('<code dir="ltr">dice-4-1-6</code>');
		const drawn = drawnOn(shown.text);
		expect(new Set(drawn).size).toBe(10);
		const again = await post({ seed: "dice-4-1-6" });
		expect(drawnOn((await get(again.to)).text)).toEqual(drawn);
		const chance = await get((await post({})).to);
		expect(chance.text).toMatch(/<code dir="ltr">[0-9a-f]{32}<\/code>/);
		expect(drawnOn(chance.text)).not.toEqual(drawn);
	});

	it("reckons the size from target, lower share and both risks, and tells the rule that decides", async () => {
		const { to } = await post({ aim: "classify", target: "90", lower: "50", alpha: "20", beta: "20" });
		const { text } = await get(to);
		const [plan] = await site.world.store.query<{ plan: string }>("SELECT plan FROM audit_sample ORDER BY id DESC LIMIT 1");
		const { households, lot } = JSON.parse(plan!.plan) as { households: number; lot: { decisionRule: number } };
		expect(text).toContain(`At least ${lot.decisionRule} of ${households} must pass`);
		expect(text).toContain("90 %, and 50 %");
	});

	it("draws in two stages with a comma or a point in its figures, and says the design effect: 1 + (4 - 1)·0.25 = 1.75 (Kish 1965)", async () => {
		const { to } = await post({ households: "8", method: "two stage", perCluster: "4", correlation: "0,25" });
		const { text } = await get(to);
		expect(text).toContain("In two stages: 2 draws of areas, 4 households each; design effect 1.75");
		expect(drawnOn(text)).toHaveLength(8);
	});

	it.each([
		["more households than there are", { households: "600" }, "households", "That asks for more households than there are."],
		["a period in the future", { from: "2031-01-01", to: "2031-01-31" }, "from", "These days lie in the future."],
		["a period that ends before it begins", { from: "2026-02-20", to: "2026-02-10" }, "from", "It ends before it begins."],
		["a day that there isn't", { from: "2026-02-30" }, "from", "Give the day as year-month-day."],
		["no number of households", { households: "some" }, "households", "A number is needed here, such as 12.5."],
		["nothing where a number is needed", { households: "" }, "households", "A number is needed here, such as 12.5."],
		["a target of 101 %", { aim: "classify", target: "101" }, "target", "At most 99 would be right."],
		["a risk of nothing", { aim: "classify", alpha: "0" }, "alpha", "At least 0.1 would be right."],
		["a lower share above the target", { aim: "classify", target: "50", lower: "60" }, "lower", "It must be under the target."],
		["a spaced seed", { seed: "a b" }, "seed", "1 to 100 letters, digits or signs without spaces would be right."],
		["nobody who visits", { auditor: "" }, "auditors", "Choose at least one person."],
		["somebody of another district", { others: "zed" }, "others", "Nobody of yours has the code zed."],
		[
			"shares that no sample tells apart",
			{ aim: "classify", target: "60", lower: "59", alpha: "1", beta: "1" },
			"target",
			"No sample",
		],
	])("with %s says so beside its field, keeps what was written, and draws nothing", async (_, over, field, said) => {
		const before = await samples();
		const { status, text } = await post(over);
		expect(status).toBe(422);
		expect(new RegExp(`id="${field}-wrong">([^<]*)`).exec(text)?.[1]?.replaceAll("&#39;", "'")).toContain(said);
		for (const [name, value] of Object.entries(over)) {
			if (!value || name === "aim" || name === "auditor") continue;
			expect(text).toMatch(new RegExp(`name="${name}" value="${value}"`));
		}
		expect(await samples()).toBe(before);
	});

	it.each(pageTexts.languages)(
		"says in %s what the rules of a sample don't allow, with nothing left in English",
		async (language) => {
			for (const over of NOT_ALLOWED) {
				const { status, text } = await post(over, own.token, language);
				expect({ over, status, english: /<span lang="en"[^>]*>[^<]*/.exec(text)?.[0] }).toEqual({
					over,
					status: 422,
					english: undefined,
				});
			}
		},
	);

	it("tells how many there are, and asks for a second person where the only one looks after a household that was drawn", async () => {
		expect((await post({ households: "600" })).text).toContain("larger than the 34 there are");
		const alone = await post({ households: "34", auditor: "", others: "vol" });
		expect([alone.status, alone.text]).toEqual([422, expect.stringContaining("choose a second person")]);
	});

	it("is refused of another district, without the form's token, and to a supervisor", async () => {
		const before = await samples();
		expect((await post({ area: "Z9" })).status).toBe(404);
		expect((await post({}, "")).status).toBe(403);
		const supervisor = await site.signedIn("sup");
		const answer = await fetch(`${site.address}/office/samples`, { headers: { cookie: supervisor.cookie } });
		expect([answer.status, await samples()]).toEqual([403, before]);
	});
});
