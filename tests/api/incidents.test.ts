import { Incidents } from "../../src/audit/incidents/incidents.js";
import { HOUR_MS } from "../../src/time/clock.js";
import { factsOf, putHousehold } from "../duties/water-world.js";
import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

onEachDatabase("incidents over HTTP", (kind) => {
	let api: Served;
	let id: string;

	beforeAll(async () => {
		api = await served(kind);
		await putHousehold(api.world);
		const water = factsOf(api.world);
		await water.dose();
		api.world.clock.advance(26 * HOUR_MS);
		await water.read(0.1);
		await api.world.the(Incidents).look();
	});
	afterAll(() => api.close());

	it("are listed by area, state and kind, and an unknown kind is refused with those there are", async () => {
		const { status, body } = await api.ask("GET", "/incidents?area=A1&state=open&kind=unfit%20water%20given%20out");
		expect(status).toBe(200);
		expect(body.items).toEqual([
			expect.objectContaining({
				kind: "unfit water given out",
				areaCode: "A1",
				about: "container",
				state: "open",
				happenedAt: "2026-03-03T05:00:00.000Z",
				openedAt: "2026-03-04T07:00:00.000Z",
				found: expect.objectContaining({ about: "C1", household: "H1", freeChlorineMgPerL: 0.1 }),
			}),
		]);
		id = body.items[0].id;
		expect((await api.ask("GET", "/incidents?state=closed")).body.items).toEqual([]);
		const refused = await api.ask("GET", "/incidents?kind=accident");
		expect([refused.status, JSON.stringify(refused.body)]).toEqual([422, expect.stringContaining("weak bleach used")]);
	});

	it("take what was found onto their time line, and refuse with 412 whoever read them before it (RFC 9110)", async () => {
		const tag = String((await api.ask("GET", `/incidents/${id}`)).headers["etag"]);
		const noted = await api.ask("POST", `/incidents/${id}/notes`, {
			body: { note: "the lid was broken" },
			headers: { "if-match": tag },
		});
		expect(noted.body.timeLine.at(-1)).toMatchObject({ what: "incident noted", detail: { note: "the lid was broken" } });
		expect(noted.headers["etag"]).not.toBe(tag);
		const late = await api.ask("POST", `/incidents/${id}/close`, {
			body: { because: "seen to" },
			headers: { "if-match": tag },
		});
		expect([late.status, late.body.detail]).toEqual([412, expect.stringContaining("has been changed since it was read")]);
		const short = await api.ask("POST", `/incidents/${id}/notes`, { body: { note: " a " } });
		expect([short.status, short.body.errors[0].pointer]).toEqual([422, "/note"]);
		expect((await api.ask("GET", `/incidents/${id}`)).body.state).toBe("open");
	});

	it("are looked into and closed with a reason, which stands on the time line; an empty reason is refused", async () => {
		expect((await api.ask("GET", `/incidents/${id}`)).body.timeLine).toContainEqual(
			expect.objectContaining({ of: "fact", what: "water read, not fit to drink", at: "2026-03-04T07:00:00.000Z" }),
		);
		expect((await api.ask("POST", `/incidents/${id}/look-into`)).body.state).toBe("looked into");
		const empty = await api.ask("POST", `/incidents/${id}/close`, { body: { because: " " } });
		expect(empty.status).toBe(422);
		const { body } = await api.ask("POST", `/incidents/${id}/close`, { body: { because: "visited; nobody fell ill" } });
		expect(body).toMatchObject({ state: "closed", closedBecause: "visited; nobody fell ill", closedBy: null });
		expect(body.timeLine.at(-1)).toMatchObject({ what: "incident closed", detail: { because: "visited; nobody fell ill" } });
		expect((await api.ask("POST", `/incidents/${id}/close`, { body: { because: "again" } })).status).toBe(409);
		expect((await api.ask("GET", "/incidents/nothing1")).status).toBe(404);
	});

	it("are counted by area and kind for the time in which they were opened", async () => {
		const counted = async (from: string, until: string) =>
			(await api.ask("GET", `/incidents/counts?from=${from}&until=${until}`)).body.items;
		expect(await counted("2026-03-01T00:00:00Z", "2026-04-01T00:00:00Z")).toEqual([
			{ areaCode: "A1", kind: "unfit water given out", opened: 1, closed: 1 },
		]);
		expect(await counted("2026-02-01T00:00:00Z", "2026-03-01T00:00:00Z")).toEqual([]);
	});
});
