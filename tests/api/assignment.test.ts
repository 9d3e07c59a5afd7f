import { Proposals } from "../../src/assignment/proposals.js";
import { areaImport } from "../../src/programme/import/areas.js";
import { inventedDistrict, write } from "../support/invented-district.js";
import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

onEachDatabase("who looks after whom", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());

	const read = (household: string) => api.ask("GET", `/households/${household}/assignment`);
	const assign = (household: string, body: object, ifMatch?: string) =>
		api.ask("PUT", `/households/${household}/assignment`, { body, ...(ifMatch && { headers: { "if-match": ifMatch } }) });
	const holders = async (area: string) => {
		const rows = await api.world.store.query<{ code: string; volunteerId: string | null }>(
			"SELECT code, volunteer_id FROM household WHERE area_id = $1 ORDER BY code",
			[area],
		);
		return rows.map(({ volunteerId }) => volunteerId);
	};
	const entries = async (subject: string) => (await api.ask("GET", `/ledger?subject=${subject}`)).body.items;
	const capacityOf = async (person: string, body: object) => {
		const before = await api.ask("GET", `/people/${person}/capacity`);
		return api.ask("PUT", `/people/${person}/capacity`, { body, headers: { "if-match": String(before.headers["etag"]) } });
	};
	const list = (csv: string) => api.ask("POST", "/imports/assignments", { raw: csv, headers: { "content-type": "text/csv" } });
	const propose = async (body: object) => {
		const asked = await api.ask("POST", "/assignment-proposals", { body });
		expect(asked.status).toBe(202);
		return settled(asked.body.id);
	};
	/** Waits for the solver as a client would, by reading. */
	const settled = async (id: string) => {
		for (;;) {
			const answer = await api.ask("GET", `/assignment-proposals/${id}`);
			if (answer.body.state !== "solving") return { id, tag: String(answer.headers["etag"]), ...answer.body };
			await new Promise((resolve) => setTimeout(resolve, 50));
		}
	};
	const accept = (id: string, tag: string, body: object = {}) =>
		api.ask("POST", `/assignment-proposals/${id}/accept`, { body, headers: { "if-match": tag } });

	describe("by hand", () => {
		it("is changed by whoever read it last, with a ledger entry and a message to the new volunteer", async () => {
			const { households, supervisor } = await inventedDistrict(api.world, "HA");
			const [h] = households as [string];
			const before = await read(h);
			expect(before.body).toEqual({ householdCode: h, volunteerCode: null, language: null, staysWithCode: null });
			const changed = await assign(
				h,
				{ volunteerCode: "HA-v2", language: "sw", byPersonCode: supervisor },
				String(before.headers["etag"]),
			);
			expect([changed.status, changed.body.volunteerCode, changed.body.language]).toEqual([200, "HA-v2", "sw"]);
			expect((await read(h)).headers["etag"]).toBe(changed.headers["etag"]);
			expect(await entries(`household:${h}`)).toContainEqual(
				expect.objectContaining({
					action: "household assigned",
					detail: { code: h, fromId: null, toId: "HA-v2", because: "by hand" },
				}),
			);
			const told = await api.world.store.query("SELECT text, recipient_id FROM message WHERE recipient_id = 'HA-v2'");
			expect(told).toEqual([{ text: "work.new", recipientId: "HA-v2" }]);
		});

		it("is refused with 428 without If-Match and with 412 with one that is old, and the first change stays (RFC 6585, RFC 9110)", async () => {
			const { households } = await inventedDistrict(api.world, "HB");
			const [h] = households as [string];
			expect((await assign(h, { volunteerCode: "HB-v1" })).status).toBe(428);
			const tag = String((await read(h)).headers["etag"]);
			const answers = await Promise.all(["HB-v1", "HB-v2", "HB-v3"].map((volunteerCode) => assign(h, { volunteerCode }, tag)));
			expect(answers.map(({ status }) => status).sort()).toEqual([200, 412, 412]);
			const kept = answers.find(({ status }) => status === 200);
			expect((await read(h)).body).toEqual(kept?.body);
			expect(answers.find(({ status }) => status === 412)?.body.detail).toMatch(/has been changed since it was read/);
		});

		it.each<[string, object, number, string, RegExp]>([
			[
				"a volunteer whom nobody knows",
				{ volunteerCode: "nobody" },
				422,
				"/volunteerCode",
				/no volunteer with the code "nobody"/,
			],
			["a supervisor instead of a volunteer", { volunteerCode: "HC-sup" }, 422, "/volunteerCode", /is a supervisor/],
			["a volunteer who has left", { volunteerCode: "HC-v3" }, 422, "/volunteerCode", /has left the programme/],
			[
				"a supervisor of another area",
				{ volunteerCode: "HC-v1", byPersonCode: "sup" },
				403,
				"/byPersonCode",
				/stands over area A1/,
			],
			[
				"a volunteer who decides",
				{ volunteerCode: "HC-v1", byPersonCode: "HC-v2" },
				403,
				"/byPersonCode",
				/is a volunteer, not a supervisor/,
			],
			["a language that isn't one", { volunteerCode: "HC-v1", language: "Swahili!" }, 422, "/language", /language tag/],
		])("is refused with %s, says where, and changes nothing", async (_, body, status, pointer, detail) => {
			if ((await api.world.store.query("SELECT id FROM area WHERE id = 'HC'")).length === 0) {
				await inventedDistrict(api.world, "HC");
				await write(api.world, "UPDATE person SET active = $1 WHERE id = 'HC-v3'", [false]);
			}
			const before = await read("HC-h10");
			const refused = await assign("HC-h10", body, String(before.headers["etag"]));
			expect([refused.status, refused.body.errors[0].pointer]).toEqual([status, pointer]);
			expect(`${refused.body.detail} ${refused.body.errors[0].detail}`).toMatch(detail);
			expect((await read("HC-h10")).body).toEqual(before.body);
		});

		it("is refused with 422 where it is more than the volunteer said that she can take on, and says how much room she has", async () => {
			const { households } = await inventedDistrict(api.world, "HD");
			expect((await capacityOf("HD-v1", { mostHouseholds: 1 })).status).toBe(200);
			const give = async (h: string) => assign(h, { volunteerCode: "HD-v1" }, String((await read(h)).headers["etag"]));
			expect((await give(households[0]!)).status).toBe(200);
			const refused = await give(households[1]!);
			expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, "/volunteerCode"]);
			expect(refused.body.detail).toBe("HD-v1 has 1 households and can take on 1; 1 more are too many.");
			expect((await read(households[1]!)).body.volunteerCode).toBeNull();
		});

		it("takes in a whole area at once, and not at all where somebody changed it since it was read", async () => {
			await inventedDistrict(api.world, "HE");
			const area = await api.ask("GET", "/areas/HE/assignment");
			expect(area.body).toMatchObject({ households: 12, withoutVolunteer: 12, volunteers: [] });
			const give = (volunteerCode: string) =>
				api.ask("POST", "/areas/HE/assignment", {
					body: { volunteerCode },
					headers: { "if-match": String(area.headers["etag"]) },
				});
			const answers = await Promise.all([give("HE-v1"), give("HE-v2")]);
			expect(answers.map(({ status }) => status).sort()).toEqual([200, 412]);
			const [winner] = new Set(await holders("HE"));
			expect(await holders("HE")).toEqual(Array(12).fill(winner));
			const again = await api.ask("POST", "/areas/HE/assignment", { body: { volunteerCode: "HE-v1" } });
			expect(again.status).toBe(428);
		});
	});

	describe("by a list", () => {
		it("is done whole, and the same list in another spelling changes nothing", async () => {
			await inventedDistrict(api.world, "LA");
			const csv = "code,volunteer_code,stays,language\nLA-h10,LA-v1,yes,sw\nLA-h11,LA-v1,,\nLA-h20,LA-v2,no,\n";
			const { body } = await list(csv);
			expect(body).toEqual({ kind: "assignments", state: "imported", rows: 3, added: 0, changed: 3, unchanged: 0 });
			expect((await holders("LA")).slice(0, 5)).toEqual(["LA-v1", "LA-v1", null, null, "LA-v2"]);
			expect((await read("LA-h10")).body).toMatchObject({ staysWithCode: "LA-v1", language: "sw" });
			const again = await list(csv.replaceAll(",", ";"));
			expect(again.body).toMatchObject({ changed: 0, unchanged: 3 });
		});

		it("is refused line by line with what would be right, and nothing of it is done", async () => {
			await inventedDistrict(api.world, "LB");
			await write(api.world, "UPDATE person SET active = $1 WHERE id = 'LB-v3'", [false]);
			const { status, body } = await list(
				"code,volunteer_code,stays,language\nLB-h10,LB-v1,,\nLB-h99,LB-v1,,\nLB-h11,LB-v3,,\nLB-h12,,yes,\n",
			);
			expect(status).toBe(422);
			expect(body.report.problems.map(({ line, column }: { line: number; column: string }) => [line, column])).toEqual([
				[3, "code"],
				[4, "volunteer_code"],
				[5, "stays"],
			]);
			expect(body.report.problems[1].message).toMatch(/no volunteer at work has this code/);
			expect(await holders("LB")).toEqual(Array(12).fill(null));
		});

		it("is refused whole where it is more than a volunteer said that she can take on", async () => {
			await inventedDistrict(api.world, "LC");
			await capacityOf("LC-v1", { mostHouseholds: 1 });
			const { status, body } = await list("code,volunteer_code,stays,language\nLC-h10,LC-v1,,\nLC-h11,LC-v1,,\n");
			expect([status, body.code]).toEqual([422, "not-allowed"]);
			expect(await holders("LC")).toEqual(Array(12).fill(null));
		});

		it("finds no area that lies in itself: the list of areas is refused before", async () => {
			const names = Object.keys(areaImport.columns);
			const cells = (code: string, parent: string) =>
				names.map((name) =>
					name === "code"
						? code
						: name === "parent_code"
							? parent
							: name === "name"
								? "Invented"
								: name === "time_zone"
									? "Africa/Nairobi"
									: "0.5",
				);
			const csv = [names, cells("CA", "CB"), cells("CB", "CA")].map((row) => row.join(",")).join("\n");
			const { status, body } = await api.ask("POST", "/imports/areas", { raw: csv, headers: { "content-type": "text/csv" } });
			expect(status).toBe(422);
			expect(body.report.problems[0].message).toMatch(/goes round in a circle/);
		});

		it("is refused with 409 for an area that a damaged database has lying in itself", async () => {
			await inventedDistrict(api.world, "LD");
			await write(api.world, "UPDATE area SET parent_id = 'LD' WHERE id = 'LD'");
			const refused = await api.ask("POST", "/assignment-proposals", { body: { areaCode: "LD" } });
			expect([refused.status, refused.body.code]).toEqual([409, "conflict"]);
			await write(api.world, "UPDATE area SET parent_id = NULL WHERE id = 'LD'");
		});
	});

	describe("by a proposal", () => {
		it("gives each household to the volunteer who lives nearest, and is done in one step with all its ledger entries", async () => {
			const { supervisor } = await inventedDistrict(api.world, "PA");
			await write(api.world, "UPDATE household SET volunteer_id = 'PA-v3' WHERE code LIKE 'PA-h1%'");
			const proposal = await propose({ areaCode: "PA", byPersonCode: supervisor });
			expect(proposal).toMatchObject({
				state: "open",
				areaCode: "PA",
				summary: { by: "optimiser", remark: null, leftOver: 0, remedy: null },
			});
			const { today, proposed, loads, costKm, boundKm } = proposal.summary;
			expect(proposed.distanceKm).toBeLessThan(today.distanceKm);
			expect(costKm).toBe(boundKm);
			expect(loads.map(({ households }: { households: number }) => households)).toEqual([4, 4, 4]);
			const lines = (await api.ask("GET", `/assignment-proposals/${proposal.id}/lines?moves=true`)).body.items;
			expect([lines.length, proposed.moves]).toEqual([12, 4]);
			const accepted = await accept(proposal.id, proposal.tag, { byPersonCode: supervisor });
			expect([accepted.status, accepted.body.moved]).toEqual([200, 12]);
			expect(await holders("PA")).toEqual(["PA-v1", "PA-v2", "PA-v3"].flatMap((v) => Array(4).fill(v)));
			const ledger = await entries("household:PA-h10");
			expect(ledger).toContainEqual(
				expect.objectContaining({
					action: "household assigned",
					detail: expect.objectContaining({ because: `proposal ${proposal.id}` }),
				}),
			);
			expect((await accept(proposal.id, "*")).status).toBe(409);
		});

		it("keeps everybody's volunteer where a change is worth more than the way (continuity), and moves them where it is worth nothing", async () => {
			await inventedDistrict(api.world, "PB", { volunteers: 2 });
			await write(api.world, "UPDATE household SET volunteer_id = 'PB-v2' WHERE area_id = 'PB'");
			const rules = async (changeKm: number) =>
				api.ask("PUT", "/programme", {
					body: { name: "Invented", rules: { assignment: { changeKm, evenWithin: 10, unevenKm: 0 } } },
					headers: { "if-match": "*" },
				});
			await rules(100);
			expect((await propose({ areaCode: "PB" })).summary.proposed.moves).toBe(0);
			await rules(0);
			expect((await propose({ areaCode: "PB" })).summary.proposed.moves).toBe(4);
			await api.ask("PUT", "/programme", { body: { name: "Invented", rules: {} }, headers: { "if-match": "*" } });
		});

		it("keeps a household with whom it must stay, and brings those together who speak one language", async () => {
			await inventedDistrict(api.world, "PC", { volunteers: 2 });
			await write(api.world, "UPDATE person SET language = 'sw' WHERE id = 'PC-v2'");
			const need = async (h: string, body: object) =>
				assign(h, { volunteerCode: null, ...body }, String((await read(h)).headers["etag"]));
			await need("PC-h10", { staysWithCode: "PC-v2" });
			await need("PC-h11", { language: "sw" });
			const { id } = await propose({ areaCode: "PC" });
			const to = Object.fromEntries(
				(await api.ask("GET", `/assignment-proposals/${id}/lines`)).body.items.map(
					(line: { householdCode: string; toCode: string }) => [line.householdCode, line.toCode],
				),
			);
			expect(to).toMatchObject({ "PC-h10": "PC-v2", "PC-h11": "PC-v2", "PC-h12": "PC-v1" });
		});

		it("says how many are left over where the room is too small, and what would make room", async () => {
			await inventedDistrict(api.world, "PD");
			for (const v of ["PD-v1", "PD-v2", "PD-v3"])
				await capacityOf(v, { mostHouseholds: 3, latitudeDeg: -1.5, longitudeDeg: 37 });
			const { summary } = await propose({ areaCode: "PD" });
			expect([summary.leftOver, summary.proposed.withoutVolunteer]).toEqual([3, 3]);
			expect(summary.remedy).toBe(
				"3 volunteers have room for 9 of 12 households. Needed: about 1 more volunteers who can take on as much as the others, or room for 3 more households among those there are.",
			);
			for (const { households } of summary.loads) expect(households).toBeLessThanOrEqual(3);
		});

		it("never gives a household to a volunteer who is away or about to be, and refuses to when done by hand", async () => {
			await inventedDistrict(api.world, "PE");
			const away = await api.ask("POST", "/people/PE-v1/hand-over", {
				body: { reason: "on leave", from: "2026-03-10", until: "2026-03-20" },
			});
			expect(away.body).toEqual({
				handedOver: { households: 0, jars: 0, generators: 0, tasks: 0 },
				...{ proposalId: null, plannedFor: "2026-03-10" },
			});
			expect((await api.ask("GET", "/people/PE-v1/absence")).body).toEqual({
				absence: { reason: "on leave", from: "2026-03-10", until: "2026-03-20", toPersonCode: null, begunAt: null },
			});
			expect((await api.ask("GET", "/people/PE-v2/absence")).body).toEqual({ absence: null });
			const proposal = await propose({ areaCode: "PE" });
			expect(proposal.summary.loads.map(({ volunteerCode }: { volunteerCode: string }) => volunteerCode)).toEqual([
				"PE-v2",
				"PE-v3",
			]);
			await api.ask("POST", "/people/PE-v2/hand-over", { body: { reason: "ill", toPersonCode: "PE-v3" } });
			const refused = await api.ask("PUT", `/assignment-proposals/${proposal.id}/lines/PE-h10`, {
				body: { volunteerCode: "PE-v2" },
				headers: { "if-match": proposal.tag },
			});
			expect([refused.status, refused.body.detail]).toEqual([422, "PE-v2 is away (ill) and can't be given anything."]);
			const stale = await accept(proposal.id, proposal.tag);
			expect([stale.status, stale.body.errors[0].detail]).toEqual([409, "volunteer PE-v2 isn't at work"]);
			expect(await holders("PE")).toEqual(Array(12).fill(null));
		});

		it("is changed by hand before it is accepted; of two who decide at once the second is told so and nothing is lost", async () => {
			await inventedDistrict(api.world, "PF");
			const { id, tag } = await propose({ areaCode: "PF" });
			const change = (h: string, volunteerCode: string | null, ifMatch = tag) =>
				api.ask("PUT", `/assignment-proposals/${id}/lines/${h}`, { body: { volunteerCode }, headers: { "if-match": ifMatch } });
			const both = await Promise.all([change("PF-h10", "PF-v2"), change("PF-h11", "PF-v3")]);
			expect(both.map(({ status }) => status).sort()).toEqual([200, 412]);
			expect((await change("PF-h99", "PF-v2", "*")).status).toBe(404);
			expect((await api.ask("PUT", `/assignment-proposals/${id}/lines/PF-h10`, { body: { volunteerCode: null } })).status).toBe(
				428,
			);
			await change("PF-h12", null, "*");
			expect((await accept(id, tag)).status).toBe(412);
			const now = await settled(id);
			const deciding = await Promise.all([accept(id, now.tag), accept(id, now.tag)]);
			expect(deciding.map(({ status }) => status).filter((status) => status === 200)).toHaveLength(1);
			const byHand = (await holders("PF")).slice(0, 3);
			expect(byHand[2]).toBeNull();
			expect([byHand[0] === "PF-v2", byHand[1] === "PF-v3"].filter(Boolean)).toHaveLength(1);
		});

		it("isn't accepted where households have been given away meanwhile: it says which, and nothing of it is done", async () => {
			await inventedDistrict(api.world, "PG");
			const { id, tag } = await propose({ areaCode: "PG" });
			await write(api.world, "UPDATE household SET volunteer_id = 'PG-v3' WHERE id = 'PG-h10'");
			const { status, body } = await accept(id, tag);
			expect([status, body.code]).toEqual([409, "conflict"]);
			expect(body.errors).toEqual([{ pointer: "", detail: "household PG-h10 is with PG-v3 now: look at it again" }]);
			expect((await holders("PG")).slice(1)).toEqual(Array(11).fill(null));
			expect((await settled(id)).state).toBe("open");
		});

		it("isn't accepted where a line by hand is more than the volunteer can take on", async () => {
			await inventedDistrict(api.world, "PH");
			await capacityOf("PH-v1", { mostHouseholds: 1, latitudeDeg: -1.5, longitudeDeg: 37 });
			const { id } = await propose({ areaCode: "PH" });
			await api.ask("PUT", `/assignment-proposals/${id}/lines/PH-h20`, {
				body: { volunteerCode: "PH-v1" },
				headers: { "if-match": "*" },
			});
			const { status, body } = await accept(id, "*");
			expect([status, body.code]).toEqual([422, "not-allowed"]);
			expect(body.detail).toMatch(/PH-v1 has 1 as the most; with these she would have 2/);
			expect(await holders("PH")).toEqual(Array(12).fill(null));
		});

		it("can be stopped while it is solved, and turned down afterwards; and one that nobody knows isn't found", async () => {
			await inventedDistrict(api.world, "PI");
			const proposals = api.world.the(Proposals);
			const asked = await proposals.ask("PI");
			await proposals.reject(asked.id);
			await asked.settled;
			expect((await settled(asked.id)).state).toBe("stopped");
			const { id } = await propose({ areaCode: "PI" });
			expect((await api.ask("POST", `/assignment-proposals/${id}/reject`)).body.state).toBe("rejected");
			expect((await api.ask("POST", `/assignment-proposals/${id}/reject`)).status).toBe(409);
			expect((await accept(id, "*")).status).toBe(409);
			expect((await api.ask("GET", "/assignment-proposals/nothing")).status).toBe(404);
			expect((await api.ask("POST", "/assignment-proposals", { body: { areaCode: "nowhere" } })).body.errors[0].pointer).toBe(
				"/areaCode",
			);
			const outside = await api.ask("POST", "/assignment-proposals", { body: { areaCode: "PI", byPersonCode: "sup" } });
			expect([outside.status, outside.body.errors[0].pointer]).toEqual([403, "/byPersonCode"]);
		});
	});

	describe("what a volunteer can take on", () => {
		it("is changed by whoever read it last", async () => {
			await inventedDistrict(api.world, "KA");
			const before = await api.ask("GET", "/people/KA-v1/capacity");
			const body = { mostHouseholds: 30, mostLitresPerDay: 500, mostHoursPerWeek: 10, worksFrom: "07:00", worksUntil: "12:00" };
			const put = (ifMatch: string) => api.ask("PUT", "/people/KA-v1/capacity", { body, headers: { "if-match": ifMatch } });
			const changed = await put(String(before.headers["etag"]));
			expect(changed.body).toMatchObject({ ...body, latitudeDeg: null });
			expect((await put(String(before.headers["etag"]))).status).toBe(412);
			expect((await api.ask("GET", "/people/nobody/capacity")).status).toBe(404);
		});

		it.each([
			["one coordinate alone", { latitudeDeg: 1 }, "/longitudeDeg"],
			["hours that end before they begin", { worksFrom: "12:00", worksUntil: "08:00" }, "/worksUntil"],
			["less than no household", { mostHouseholds: -1 }, "/mostHouseholds"],
		])("is refused with %s", async (_, body, pointer) => {
			const refused = await api.ask("PUT", "/people/vol/capacity", { body, headers: { "if-match": "*" } });
			expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, pointer]);
		});
	});
});
