import { createHash } from "node:crypto";
import { inventedFacts, putFacts } from "../audit/coverage-facts.js";
import { onEachDatabase } from "../support/stores.js";
import { served } from "./served.js";

onEachDatabase("reports and exports over the interface", (kind) => {
	it("come with their media types, and a report with a policy that allows its own style and nothing else", async () => {
		const api = await served(kind);
		try {
			await putFacts(api.world.store, inventedFacts(11, api.world.clock.nowMs()));
			const asked = "area=NAT&from=2026-01-01&to=2026-01-31";
			const types = { csv: "text/csv; charset=utf-8", geojson: "application/geo+json", adx: "application/adx+xml" };
			for (const [format, type] of Object.entries(types)) {
				const answer = await api.ask("GET", `/coverage/figures.${format}?${asked}`);
				expect(answer).toMatchObject({ status: 200, headers: { "content-type": type } });
				expect(answer.headers["content-disposition"]).toBe(`attachment; filename="coverage-2026-01-01-2026-01-31.${format}"`);
			}
			const xlsx = await api.ask("GET", `/coverage/figures.xlsx?${asked}&indicator=stock-in-date`);
			expect(xlsx.text.slice(0, 2)).toBe("PK");
			const page = await api.ask("GET", "/reports/monthly.html?area=NAT&month=2026-01");
			const style = /<style>(.*?)<\/style>/s.exec(page.text)?.[1] ?? "";
			const digest = createHash("sha256").update(style).digest("base64");
			expect(page.headers["content-security-policy"]).toContain(`style-src 'sha256-${digest}'`);
			expect(page.headers["content-security-policy"]).toContain("default-src 'none'");
			expect((await api.ask("GET", "/reports/monthly.html?area=NAT&month=2026-14")).status).toBe(422);
			expect((await api.ask("GET", `/coverage/figures.csv?${asked}&indicator=nothing`)).status).toBe(422);
		} finally {
			await api.close();
		}
	});
});
