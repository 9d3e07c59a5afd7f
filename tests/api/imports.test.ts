import { onEachDatabase } from "../support/stores.js";
import { type Served, served } from "./served.js";

const HEADER = "code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg\n";
const row = (code: string, turbidity = "clear") => `${code},A1,vol,5,well,${turbidity},,\n`;

onEachDatabase("a CSV file", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
	});
	afterAll(() => api.close());
	const sent = (raw: string | Buffer, url = "/imports/households", type = "text/csv; charset=utf-8") =>
		api.ask("POST", url, { raw, headers: { "content-type": type } });

	it("is taken in whole, and known again when it comes a second time", async () => {
		const file = HEADER + row("H-1") + row("H-2", "cloudy");
		expect((await sent(file)).body).toEqual({
			kind: "households",
			state: "imported",
			rows: 2,
			added: 2,
			changed: 0,
			unchanged: 0,
		});
		expect((await sent(file)).body).toMatchObject({ state: "already imported", added: 0 });
		expect((await sent(file, "/imports/households?again=true")).body).toMatchObject({ state: "imported", unchanged: 2 });
		expect((await api.ask("GET", "/households?volunteer=vol")).body.items).toHaveLength(2);
	});

	it("with a mistake is refused whole with 422 and a report of lines, and nothing of it is kept", async () => {
		const { status, body } = await sent(HEADER + row("H-8") + row("H-9", "muddy"));
		expect([status, body.code, body.report.state]).toEqual([422, "import-refused", "refused"]);
		expect(body.report.problems).toEqual([expect.objectContaining({ line: 3, column: "turbidity" })]);
		expect((await api.ask("GET", "/households?limit=1000")).text).not.toContain("H-8");
	});

	it("of a kind that there isn't is refused, and the kinds there are are named", async () => {
		const { status, body } = await sent(HEADER, "/imports/secrets");
		expect([status, body.code]).toEqual([422, "invalid-input"]);
		expect(body.detail).toContain("households");
	});

	it("is taken as text/csv in UTF-8 and as nothing else", async () => {
		for (const type of ["application/json", "text/plain", "text/csv; charset=utf-16", "multipart/form-data; boundary=x", ""])
			expect({ type, status: (await sent(HEADER, undefined, type)).status }).toEqual({ type, status: 415 });
		expect((await sent(HEADER, "/imports/households?defaultCountry=Kenya")).status).toBe(422);
		expect((await sent(HEADER, "/imports/households?again=yes")).status).toBe(422);
	});

	it("may be longer than the 256 KiB of any other body: it is read as it comes", async () => {
		const rows = Array.from({ length: 8000 }, (_, n) => row(`L-${n}`)).join("");
		expect(Buffer.byteLength(rows)).toBeGreaterThan(200 * 1024);
		const { status, body } = await sent(HEADER + rows + rows.replaceAll("L-", "M-"));
		expect([status, body.added]).toEqual([200, 16_000]);
	});
});
