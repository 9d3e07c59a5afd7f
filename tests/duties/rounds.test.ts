import { roundPlan } from "../../src/duties/round-plan.js";
import { distanceKm } from "../../src/science/visit-times.js";
import { type Served, served } from "../api/served.js";
import { aTask } from "../support/builders.js";
import { inventedDistrict, write } from "../support/invented-district.js";
import { onEachDatabase } from "../support/stores.js";

const DAY = { startMs: 0, endMs: 9 * 3_600_000, visitMinutes: 15, straightKmPerH: 5 / 1.3 };
const HOME = { latitudeDeg: -1.5, longitudeDeg: 37 };
const call = (north: number, east: number, dueAtMs = 0) => ({
	latitudeDeg: -1.5 + north / 1000,
	longitudeDeg: 37 + east / 1000,
	dueAtMs,
});

describe("a day's round", () => {
	it("begins and ends at home, and counts walking and visits: three calls 1.112 km apart along a line", () => {
		// A hundredth of a degree along a meridian is 1.1119 km by the haversine on a sphere of 6371 km.
		const { stops, km, backAtMs, leftOver } = roundPlan(HOME, [call(20, 0), call(30, 0), call(10, 0)], DAY);
		expect(stops.map(({ call: { latitudeDeg } }) => Math.round((latitudeDeg + 1.5) * 1000))).toEqual([10, 20, 30]);
		expect(km).toBeCloseTo(6 * 1.1119, 3);
		const walkedMs = (distanceKm(HOME, call(30, 0)) * 2 * 1.3 * 3_600_000) / 5;
		expect(backAtMs).toBeCloseTo(walkedMs + 3 * 15 * 60_000, 0);
		expect(leftOver).toEqual([]);
	});

	it("keeps within working hours: what became due first stays, the rest is left over and told", () => {
		const calls = Array.from({ length: 40 }, (_, n) => call((n % 7) * 2, Math.floor(n / 7) * 2, n));
		const { stops, backAtMs, leftOver } = roundPlan(HOME, calls, { ...DAY, endMs: 4 * 3_600_000 });
		expect(backAtMs).toBeLessThanOrEqual(4 * 3_600_000);
		expect(stops.length + leftOver.length).toBe(40);
		expect(stops.length).toBeGreaterThan(8);
		expect(leftOver.map(({ dueAtMs }) => dueAtMs)).toEqual(Array.from({ length: leftOver.length }, (_, n) => stops.length + n));
	});

	it("without calls, or without time, is no way at all", () => {
		expect(roundPlan(HOME, [], DAY)).toEqual({ stops: [], km: 0, backAtMs: 0, leftOver: [] });
		const none = roundPlan(HOME, [call(1, 1)], { ...DAY, endMs: 0 });
		expect([none.stops, none.leftOver.length]).toEqual([[], 1]);
	});
});

onEachDatabase("the round of a volunteer", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());

	it("has one stop a household with all its open work, in the order of the way, within her hours", async () => {
		await inventedDistrict(api.world, "R", { volunteers: 1, householdsEach: 5 });
		const [v] = ["R-v1"];
		const dueAtMs = Date.UTC(2026, 2, 3, 6);
		const task = (code: string, subjectId: string, over = {}) =>
			aTask(api.world.store, { id: code, areaId: "R", assigneeId: v, subjectId, dueAtMs, ...over });
		await task("RA", "R-h13-c");
		await task("RB", "R-h11-c");
		await task("RC", "R-h11");
		await task("RD", "R-own");
		await task("RE", "R-h14", { dueAtMs: Date.UTC(2026, 2, 5, 6) });
		await task("RF", "R-h12", { assigneeId: "vol" });
		await write(api.world, "UPDATE household SET latitude_deg = NULL, longitude_deg = NULL WHERE id = 'R-h13'");
		const { status, body } = await api.ask("GET", `/people/${v}/round?date=2026-03-03`);
		expect(status).toBe(200);
		expect(body).toMatchObject({
			date: "2026-03-03",
			timeZone: "Africa/Nairobi",
			isWorkingDay: true,
			walkingKmPerH: 5,
			detour: 1.3,
		});
		expect([body.startAt, body.endAt]).toEqual(["2026-03-03T05:00:00.000Z", "2026-03-03T14:00:00.000Z"]);
		const stops = body.stops.map(
			({ code, isPlaceKnown, tasks }: { code: string; isPlaceKnown: boolean; tasks: { code: string }[] }) => [
				code,
				isPlaceKnown,
				tasks.map((at) => at.code),
			],
		);
		expect(stops.sort()).toEqual([
			["R-h11", true, ["RB", "RC"]],
			["R-h13", false, ["RA"]],
		]);
		expect(body.atHome).toEqual([{ code: "RD", kind: "retest" }]);
		expect(body.leftOver).toEqual([]);
		expect((await api.ask("GET", `/people/${v}/round?date=2026-03-05`)).body.stops).toHaveLength(3);
	});

	it("says that a day is a day off, and is refused for nobody and for no date", async () => {
		await inventedDistrict(api.world, "S", { volunteers: 1 });
		await write(api.world, "UPDATE person SET working_days = '[1,2,3,4,5]' WHERE id = 'S-v1'");
		expect((await api.ask("GET", "/people/S-v1/round?date=2026-03-07")).body.isWorkingDay).toBe(false);
		expect((await api.ask("GET", "/people/nobody/round?date=2026-03-07")).status).toBe(404);
		const refused = await api.ask("GET", "/people/S-v1/round?date=tomorrow");
		expect([refused.status, refused.body.errors[0].parameter]).toEqual([422, "date"]);
	});
});
