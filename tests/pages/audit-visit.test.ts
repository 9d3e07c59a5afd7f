import { SampleFindings } from "../../src/audit/sample/findings.js";
import { Samples } from "../../src/audit/sample/samples.js";
import { HOUR_MS } from "../../src/time/clock.js";
import { localDateOf, localTimeOf } from "../../src/time/local.js";
import { onEachDatabase } from "../support/stores.js";
import { putDistrict } from "./district.js";
import { putWork, type ServedSite, servedSite, withoutToken } from "./site.js";

onEachDatabase("entering what an audit visit found", (kind) => {
	let site: ServedSite;
	let own: { readonly cookie: string; readonly token: string };
	let sample: string;
	let homes: string[] = [];
	/** At the households, an hour before now. */
	let on: string;
	let at: string;
	beforeAll(async () => {
		site = await servedSite(kind);
		const { world } = site;
		await putWork(world);
		await putDistrict(world);
		const aims = { kind: "size", households: 12 } as const;
		sample = await world.the(Samples).draw({ areaCode: "A1", aims, method: { kind: "simple" }, auditorCodes: ["office"] });
		homes = (
			await world.store.query<{ code: string }>(
				"SELECT h.code FROM audit_visit v JOIN household h ON h.id = v.household_id WHERE v.sample_id = $1 ORDER BY v.place",
				[sample],
			)
		).map(({ code }) => code);
		world.clock.advance(3 * HOUR_MS);
		const [area] = await world.store.query<{ timeZone: string }>("SELECT time_zone FROM area WHERE id = 'area'");
		[on, at] = localTimeOf(world.clock.nowMs() - HOUR_MS, area!.timeZone).split(" ") as [string, string];
		own = await site.signedIn("off");
	}, 120_000);
	afterAll(() => site.close());

	const pathOf = (home: string, of = sample) => `/office/samples/${of}/visits/${home}`;
	const get = (path: string) => site.shown(path, { cookie: own.cookie });
	const USUAL = { outcome: "seen", reading: "", treated: "", container: "", by: "office", other: "", because: "" };
	const post = async (home: string, over: Record<string, string>, token = own.token, cookie = own.cookie) => {
		const answer = await fetch(`${site.address}${pathOf(home)}`, {
			method: "POST",
			redirect: "manual",
			headers: { cookie, "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams({ token, ...USUAL, on, at, ...over }).toString(),
		});
		return { status: answer.status, to: answer.headers.get("location") ?? "", text: withoutToken(await answer.text()) };
	};
	const kept = () =>
		site.world.store.query<{ outcome: string; freeChlorineMgPerL: number | null; because: string | null }>(
			"SELECT outcome, free_chlorine_mg_per_l, because FROM audit_result ORDER BY id",
		);

	it("keeps a reading with a comma, at the minute that clocks showed there, counts it in the sample, and notes who entered it", async () => {
		const [home] = homes as [string];
		expect((await get(`/office/samples/${sample}`)).text).toContain(`href="${pathOf(home)}"`);
		const { status, to } = await post(home, { reading: "0,5", treated: "yes", container: "no" });
		expect([status, to]).toEqual([303, `/office/samples/${sample}?is=kept&of=${home}`]);
		const [row] = await site.world.store.query<Record<string, unknown>>(
			"SELECT outcome, visited_at_ms, by_person_id, free_chlorine_mg_per_l, treated, container_seen FROM audit_result",
		);
		const nowMs = site.world.clock.nowMs();
		expect({ ...row, treated: Boolean(row!["treated"]), containerSeen: Boolean(row!["containerSeen"]) }).toEqual({
			...{ outcome: "seen", visitedAtMs: Math.floor((nowMs - HOUR_MS) / 60_000) * 60_000, byPersonId: "off" },
			...{ freeChlorineMgPerL: 0.5, treated: true, containerSeen: false },
		});
		const shown = await get(to);
		expect(shown.text).toContain(`Kept: what was found at ${home}.`);
		expect(shown.text).toContain("0.5 mg/L");
		expect((await site.world.the(SampleFindings).of(sample)).visits).toEqual({ seen: 1, refused: 0, absent: 0, open: 11 });
		const [entry] = await site.world.store.query<{ actor: string }>(
			"SELECT actor FROM ledger_entry WHERE action = 'audit recorded'",
		);
		expect(entry).toEqual({ actor: "off" });
	});

	it("keeps that nobody was at home, and leaves what wasn't looked at unknown", async () => {
		await post(homes[1]!, { outcome: "absent" });
		await post(homes[2]!, { reading: "0" });
		const rows = await site.world.store.query(
			"SELECT outcome, free_chlorine_mg_per_l, treated, container_seen FROM audit_result ORDER BY id DESC LIMIT 2",
		);
		const nothing = { treated: null, containerSeen: null };
		expect(rows).toEqual([
			{ outcome: "seen", freeChlorineMgPerL: 0, ...nothing },
			{ outcome: "absent", freeChlorineMgPerL: null, ...nothing },
		]);
	});

	it("corrects what is on file by adding to it, once it is said why", async () => {
		const home = homes[0]!;
		const page = await get(pathOf(home));
		expect(page.text).toContain("0.5 mg/L");
		expect(page.text).toContain('name="because"');
		const before = await kept();
		const silent = await post(home, { reading: "0.7" });
		expect([silent.status, /id="because-wrong">([^<]*)/.exec(silent.text)?.[1]]).toEqual([
			422,
			"Something is on file for this household: say why it is corrected.",
		]);
		expect(silent.text).toContain('name="reading" value="0.7"');
		expect(await kept()).toEqual(before);
		expect((await post(home, { reading: "0.7", because: "misread the disc" })).status).toBe(303);
		expect((await kept()).slice(before.length)).toEqual([
			{ outcome: "seen", freeChlorineMgPerL: 0.7, because: "misread the disc" },
		]);
		expect((await get(pathOf(home))).text).toContain("misread the disc");
	});

	it.each([
		["nothing that happened", { outcome: "" }, "outcome", "Choose what happened."],
		["no number", { reading: "some" }, "reading", "A number is needed here, such as 12.5."],
		["51 mg/L", { reading: "51" }, "reading", "At most 50 would be right."],
		["-1 mg/L", { reading: "-1" }, "reading", "At least 0 would be right."],
		["a reading where nobody was at home", { outcome: "absent", reading: "0.5" }, "reading", "Leave this empty"],
		["no time of day", { at: "" }, "on", "Give a day and a time of day"],
		["a day that there isn't", { on: "2026-02-30" }, "on", "Give a day and a time of day"],
		["a day to come", { on: "2031-01-01" }, "on", "That lies in the future."],
		["a day before the draw", { on: "2025-01-01" }, "on", "That is before the sample was drawn."],
		["the household's own volunteer", { other: "OWN" }, "other", "Who looks after a household doesn"],
		["somebody of another district", { other: "zed" }, "other", "Nobody of yours has the code zed."],
	])(
		"with %s says so beside its field, keeps what was written, and keeps no result",
		async (_, over: Record<string, string>, field, said) => {
			const home = homes[5]!;
			const [household] = await site.world.store.query<{ volunteerId: string }>(
				"SELECT volunteer_id FROM household WHERE code = $1",
				[home],
			);
			if (household!.volunteerId === null)
				await site.world.store.work.run((tx) => tx.query("UPDATE household SET volunteer_id = 'vol' WHERE code = $1", [home]));
			const sent = over["other"] === "OWN" ? { other: household!.volunteerId ?? "vol" } : over;
			const before = await kept();
			const { status, text } = await post(home, sent);
			expect(status).toBe(422);
			expect(new RegExp(`id="${field}-wrong">([^<]*)`).exec(text)?.[1]).toContain(said);
			for (const [name, value] of Object.entries(sent)) {
				if (name !== "outcome" && value) expect(text).toMatch(new RegExp(`name="${name}" value="${value}"`));
			}
			expect(await kept()).toEqual(before);
		},
	);

	it("begins with today and with whoever was asked to visit", async () => {
		const { text } = await get(pathOf(homes[6]!));
		const [area] = await site.world.store.query<{ timeZone: string }>("SELECT time_zone FROM area WHERE id = 'area'");
		expect(text).toContain(`name="on" value="${localDateOf(site.world.clock.nowMs(), area!.timeZone)}"`);
		expect(text).toMatch(/<option value="office" selected>/);
		expect(text).toContain("Entering it here tells nobody and starts no work.");
	});

	it("is refused of a household that wasn't drawn, of another district, without the form's token, and to a supervisor", async () => {
		const before = await kept();
		const all = (await site.world.store.query<{ code: string }>("SELECT code FROM household")).map(({ code }) => code);
		const outside = all.find((code) => !homes.includes(code) && code !== "HZ")!;
		expect((await post(outside, {})).status).toBe(404);
		expect((await post("HZ", {})).status).toBe(404);
		expect((await get(pathOf(homes[7]!, "none-such"))).status).toBe(404);
		expect((await post(homes[7]!, {}, "another-site")).status).toBe(403);
		const supervisor = await site.signedIn("sup");
		expect((await post(homes[7]!, {}, supervisor.token, supervisor.cookie)).status).toBe(403);
		expect(await kept()).toEqual(before);
	});
});
