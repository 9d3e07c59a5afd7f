import { fieldCard, fieldCardAsTaught } from "../../src/water/protocols/field-card.js";
import { twoDose } from "../../src/water/protocols/two-dose.js";
import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

onEachDatabase("the written protocols", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		await api.world.store.work.run(async (tx) => {
			await tx.query(
				`INSERT INTO area (id, parent_id, code, name, time_zone, latitude_deg, longitude_deg, altitude_m, climate)
				 SELECT 'below', 'area', 'A1-1', 'Invented', time_zone, 0, 37, 1200, climate FROM area WHERE id = 'area'`,
			);
			for (const [id, area] of [
				["h1", "area"],
				["h2", "below"],
				["h3", "below"],
			])
				await tx.query(
					"INSERT INTO household (id, code, area_id, volunteer_id, persons, water_source, turbidity) VALUES ($1, $2, $3, 'vol', 5, 'well', 'clear')",
					[id, id?.toUpperCase(), area],
				);
		});
	});
	afterAll(() => api.close());
	const post = (url: string, body: unknown = {}) => api.ask("POST", url, { body });
	const versions = () => api.world.store.query("SELECT code, version FROM protocol_version ORDER BY code, version");
	const followed = () =>
		api.world.store.query(
			"SELECT p.household_id, v.code FROM household_protocol p JOIN protocol_version v ON v.id = p.protocol_version_id ORDER BY 1",
		);

	it("are the two that ship, the published one as the default", async () => {
		const { body } = await api.ask("GET", "/protocols");
		expect(body.items).toMatchObject([
			{ code: "field-card", version: 1, isDefault: false },
			{ code: "two-dose", version: 1, isDefault: true },
		]);
	});

	// 1.5 mL/L x 5 g/L = 7.5 mg/L (computed independently); 5 mg/L: WHO Guidelines for drinking-water quality.
	it("are told in full: of the field card the checker says by itself that 7.5 mg/L isn't drunk before a reading", async () => {
		const { body } = await api.ask("GET", "/protocols/field-card/1");
		expect(body).toMatchObject({ needsCheckBeforeDrinking: true, drinkFrom: "fitReading" });
		const over = body.findings.find((finding: { code: string }) => finding.code === "dose-over-guideline");
		expect(over.figures).toMatchObject({ mlPerL: 1.5, nominalGPerL: 5, nominalMgPerL: 7.5, mostMgPerL: 5 });
		expect((await api.ask("GET", "/protocols/two-dose/1")).body).toMatchObject({ needsCheckBeforeDrinking: false });
	});

	it("refuse the field card that lets people drink without a reading, with the figures", async () => {
		const { status, body } = await post("/protocols", { ...fieldCard, version: 7, drinkFrom: "contactTime" });
		expect(status).toBe(422);
		expect(body.detail).toContain("1.5 mL per litre at a measured 5 g/L is 7.5 mg/L in clear water");
		expect(body.detail).toContain("So the residual check must come before anybody drinks");
		expect(await versions()).toHaveLength(2);
	});

	it("refuse a gap and an overlap with the numbers and the place, and keep nothing", async () => {
		const gap = await post("/protocols", fieldCardAsTaught);
		expect([gap.status, gap.body.code]).toEqual([422, "invalid-input"]);
		expect(gap.body.errors.slice(0, 2)).toEqual([
			{ pointer: "/checks/0/bands", detail: "After the wait: no band holds readings from 1 to under 2 mg/L (gap 1-2)." },
			{ pointer: "/checks/0/bands", detail: "After the wait: no band holds readings over 4 and under 5 mg/L (gap 4-5)." },
		]);
		const [low, fit, ...others] = fieldCard.checks[0]!.bands;
		const bands = [{ ...low, belowMgPerL: 2.5 }, fit, ...others];
		const overlap = await post("/protocols", { ...fieldCard, version: 8, checks: [{ ...fieldCard.checks[0], bands }] });
		expect(overlap.body.errors[0]).toEqual({
			pointer: "/checks/0/bands",
			detail: 'After the wait: "low" and "fit" each hold readings from 2 to under 2.5 mg/L (overlap 2-2.5).',
		});
		expect(await versions()).toHaveLength(2);
	});

	it("name the place of a form that isn't right, and take nothing that isn't known", async () => {
		const { status, body } = await post("/protocols", { ...twoDose, version: 0, colour: "blue" });
		expect(status).toBe(422);
		expect(body.errors.map(({ pointer }: { pointer: string }) => pointer)).toEqual(
			expect.arrayContaining(["/version", "/colour"]),
		);
	});

	it("tell what the checker says without keeping anything", async () => {
		const { status, body } = await post("/protocols/check", fieldCardAsTaught);
		expect([status, body.accepted]).toEqual([200, false]);
		expect(body.findings.slice(0, 2)).toMatchObject([
			{ severity: "refuse", code: "gap", figures: { startMgPerL: 1, endMgPerL: 2 } },
			{ severity: "refuse", code: "gap", figures: { startMgPerL: 4, endMgPerL: 5 } },
		]);
		expect(await versions()).toHaveLength(2);
	});

	it("are accepted closed on the drinker's side where that is asked for, made the default, and given to households that have none", async () => {
		const accepted = await post("/protocols?closeOnDrinkersSide=true", { ...fieldCardAsTaught, version: 2 });
		expect(accepted.status).toBe(201);
		expect(accepted.body.protocol.closings.join(" ")).toMatch(/gap 1-2.*gap 4-5/);
		expect((await post("/protocols/field-card/2/default")).body).toMatchObject({ isDefault: true });
		// Who stood under the default until then keeps it.
		expect(await followed()).toEqual([
			{ householdId: "h1", code: "two-dose" },
			{ householdId: "h2", code: "two-dose" },
			{ householdId: "h3", code: "two-dose" },
		]);
		expect((await post("/protocols/two-dose/1/default")).body).toMatchObject({ isDefault: true });
	});

	it("are given to households by code, and to those of an area with what is below it; the others keep theirs", async () => {
		expect((await post("/protocols/field-card/1/households", { householdCodes: ["H1"], why: "asked for" })).body).toEqual({
			moved: 1,
		});
		expect((await followed()).map((row) => (row as { code: string }).code)).toEqual(["field-card", "two-dose", "two-dose"]);
		expect((await post("/protocols/field-card/1/households", { areaCode: "A1", why: "asked for" })).body).toEqual({ moved: 2 });
		expect((await post("/protocols/two-dose/1/households", { areaCode: "A1-1", why: "back" })).body).toEqual({ moved: 2 });
		expect((await followed()).map((row) => (row as { code: string }).code)).toEqual(["field-card", "two-dose", "two-dose"]);
	});

	it.each([
		["a version that there isn't", "/protocols/two-dose/9/households", { householdCodes: ["H1"], why: "x" }, 404, undefined],
		[
			"a household that there isn't",
			"/protocols/two-dose/1/households",
			{ householdCodes: ["H1", "NONE"], why: "x" },
			422,
			"/householdCodes/1",
		],
		["an area that there isn't", "/protocols/two-dose/1/households", { areaCode: "NONE", why: "x" }, 422, "/areaCode"],
		["neither households nor an area", "/protocols/two-dose/1/households", { why: "x" }, 422, ""],
		["no reason", "/protocols/two-dose/1/households", { householdCodes: ["H1"] }, 422, "/why"],
		["a version that isn't a number", "/protocols/two-dose/x/households", { householdCodes: ["H1"], why: "x" }, 422, undefined],
	])("move nobody for %s", async (_, url, body, status, pointer) => {
		const before = await followed();
		const answer = await post(url, body);
		expect([answer.status, answer.body.errors?.[0]?.pointer]).toEqual([status, pointer]);
		expect(await followed()).toEqual(before);
	});

	it("name the versions that are there where another is asked for", async () => {
		const { status, body } = await api.ask("GET", "/protocols/two-dose/9");
		expect(status).toBe(404);
		expect(body.detail).toContain("Known are: field-card 1");
		expect((await post("/protocols/two-dose/9/default")).status).toBe(404);
	});
});
