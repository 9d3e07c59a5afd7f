import { Sealer } from "../../src/ledger/sealer.js";
import { onEachDatabase } from "../support/stores.js";
import { served } from "./served.js";

onEachDatabase("the ledger over the interface", (kind) => {
	it("tells the route and the request that an entry came from, gives its head out and is verified", async () => {
		const api = await served(kind);
		try {
			const holidays = { holidays: [{ onDate: "2026-04-03", name: "Invented day" }] };
			const put = await api.ask("PUT", "/areas/A1/holidays", { body: holidays });
			expect(put.status).toBe(200);
			const { items } = (await api.ask("GET", "/ledger?sort=-at&limit=1")).body;
			expect(items).toEqual([
				expect.objectContaining({ origin: `PUT /areas/:code/holidays, request ${put.headers["x-request-id"]}`, because: null }),
			]);
			expect((await api.ask("GET", "/ledger/head")).body).toMatchObject({ position: 0, sealedAt: null });
			expect((await api.ask("POST", "/ledger/heads", { body: { how: "printed" } })).status).toBe(409);
			const { store, clock } = api.world;
			await new Sealer(store, clock).seal();
			const head = (await api.ask("GET", "/ledger/head")).body;
			expect(head).toMatchObject({ waitingEntries: 0, oldestWaitingAt: null });
			const given = await api.ask("POST", "/ledger/heads", { body: { how: "printed" } });
			expect(given).toMatchObject({ status: 201, body: { text: head.text, how: "printed" } });
			expect((await api.ask("GET", "/ledger/heads")).body).toEqual({ heads: [given.body] });
			const whole = (await api.ask("GET", `/ledger/verification?from=1&anchor=${head.text}`)).body;
			expect(whole).toMatchObject({ whole: true, headsThatAgree: 2, entries: head.position, waitingEntries: 1, findings: [] });
			const other = head.text.replace(/.$/, (digit: string) => (digit === "0" ? "1" : "0"));
			expect((await api.ask("GET", `/ledger/verification?anchor=${other}`)).body).toMatchObject({
				whole: false,
				findings: [{ kind: "other head", position: head.position }],
			});
			expect((await api.ask("GET", "/ledger/verification?anchor=12")).status).toBe(422);
		} finally {
			await api.close();
		}
	});
});
