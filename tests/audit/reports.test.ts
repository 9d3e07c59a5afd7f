import { existsSync } from "node:fs";
import { describe, expect, it } from "@jest/globals";
import { XMLValidator } from "fast-xml-parser";
import { reportHtml } from "../../src/audit/reports/html.js";
import type { MonthSample } from "../../src/audit/reports/month-samples.js";
import { type MonthlyReport, MonthlyReports } from "../../src/audit/reports/monthly.js";
import { browserPath, printedPdf } from "../../src/audit/reports/pdf.js";
import { change, count, interval, percent } from "../../src/audit/reports/words.js";
import { AuditResults } from "../../src/audit/sample/results.js";
import { Samples } from "../../src/audit/sample/samples.js";
import { headText } from "../../src/ledger/heads.js";
import { record } from "../../src/ledger/ledger.js";
import { Sealer } from "../../src/ledger/sealer.js";
import { DAY_MS } from "../../src/time/clock.js";
import { databasesHere } from "../support/stores.js";
import { newWorld, START_MS, settle, type World } from "../support/world.js";
import { inventedFacts, putFacts } from "./coverage-facts.js";

const NOW = START_MS + 7 * DAY_MS;

async function reportsOf(...months: string[]): Promise<MonthlyReport[][]> {
	const found: MonthlyReport[][] = [];
	for (const kind of databasesHere()) {
		const world = await newWorld(kind);
		try {
			world.clock.moveTo(NOW);
			await putFacts(world.store, inventedFacts(11, NOW));
			await world.store.work.run((tx) =>
				tx.query("UPDATE area SET name = $1 WHERE code = 'EAST'", ['<script>alert("&")</script>']),
			);
			await world.store.work.run((tx) =>
				record(tx, world.ids, [
					{ atMs: NOW, actor: "office", action: "noted", subjectKind: "thing", subjectId: "T", detail: {} },
				]),
			);
			await new Sealer(world.store, world.clock).seal();
			await putIncidents(world);
			world.clock.moveTo(NOW - 3 * DAY_MS);
			await putSamples(world);
			world.clock.moveTo(NOW);
			const reports: MonthlyReport[] = [];
			for (const month of months) reports.push(await world.the(MonthlyReports).of({ areaCode: "NAT", month }));
			found.push(reports);
		} finally {
			await world.remove();
		}
	}
	return found;
}

/** Invented: closed within February; open through it; looked into since January and closed in March; of another area. */
async function putIncidents({ store }: World): Promise<void> {
	const [nat, east] = await Promise.all(
		["NAT", "EAST"].map(
			async (code) => (await store.query<{ id: string }>("SELECT id FROM area WHERE code = $1", [code]))[0]!.id,
		),
	);
	const found = (about: string) => JSON.stringify({ about });
	const columns = ["id", "kind", "cause_id", "subject_kind", "subject_id", "area_id", "happened_at_ms", "opened_at_ms"];
	const at = (month: number, day: number) => Date.UTC(2026, month - 1, day, 6);
	const row = (n: number, kind: string, area: string | undefined, opened: number, about: string) => [
		...[`I${n}`, kind, `c${n}`, "batch", `s${n}`, area, opened, opened],
		...[found(about)],
	];
	await store.work.run((tx) =>
		tx.insert(
			"incident",
			[...columns, "found", "state", "looked_into_at_ms", "closed_at_ms"],
			[
				[...row(1, "weak bleach used", east, at(2, 3), "JAR-1"), "closed", null, at(2, 10)],
				[...row(2, "unfit water given out", east, at(2, 20), "<b>C-9"), "looked into", at(3, 2), null],
				[...row(3, "task never answered", nat, at(1, 15), "K7QD"), "closed", at(2, 1), at(3, 1)],
				[...row(4, "generator out", east, at(3, 5), "G-2"), "open", null, null],
			],
		),
	);
}

/** Two samples: every household of one was seen but the last, which was absent; nobody has begun with the other. */
async function putSamples(world: World): Promise<void> {
	const aims = { kind: "classify", targetShare: 0.8, lowerShare: 0.5, maximumAlpha: 0.1, maximumBeta: 0.1 } as const;
	const drawn = (areaCode: string, seed: string) =>
		world.the(Samples).draw({ areaCode, aims, method: { kind: "simple" }, seed, auditorCodes: ["p0", "p1"] });
	const id = await drawn("NAT", "dice-3-3-1");
	world.clock.advance(1000);
	await drawn("EAST", "dice-6-2-2");
	const visits = await world.store.query<{ household: string; auditor: string }>(
		`SELECT h.code AS household, p.code AS auditor FROM audit_visit v JOIN household h ON h.id = v.household_id
		 JOIN person p ON p.id = v.auditor_id WHERE v.sample_id = $1 ORDER BY v.place`,
		[id],
	);
	for (const [i, { household, auditor }] of visits.entries()) {
		const visit = { visitedAtMs: world.clock.nowMs(), byPersonCode: auditor };
		const found = { outcome: "seen", freeChlorineMgPerL: i < 2 ? 0 : 0.6, treated: i > 0, containerSeen: true } as const;
		await world
			.the(AuditResults)
			.record(id, household, i === visits.length - 1 ? { ...visit, outcome: "absent" } : { ...visit, ...found });
	}
}

/** @returns the cells of the row of a table that begins so, without marks */
function cellsOf(html: string, name: string): string[] {
	const row = new RegExp(`<tr><th scope="row">${name}.*?</tr>`, "s").exec(html)?.[0] ?? "";
	return (row.match(/<td.*?<\/td>/gs) ?? []).map((cell) => cell.replace(/<.*?>/g, ""));
}

describe("a month's report", () => {
	let february: MonthlyReport;
	let march: MonthlyReport;
	let others: MonthlyReport[][];
	beforeAll(async () => {
		const [first, ...rest] = await reportsOf("2026-02", "2026-03");
		[february, march] = first as [MonthlyReport, MonthlyReport];
		others = rest;
	}, 60_000);

	it("holds each figure with its interval, what is missing, and the table behind each plot", () => {
		const html = reportHtml(february);
		for (const figure of february.coverage.figures) {
			expect(html).toContain(
				`<td>${count(figure.numerator)}</td><td>${count(figure.denominator)}</td><td>${percent(figure.share)}</td>`,
			);
			expect(html).toContain(`<td>${interval(figure)}</td>`);
		}
		const svgs = html.match(/<svg .*?<\/svg>/gs) ?? [];
		// One of all shares, one a figure by month, and the map.
		expect(svgs).toHaveLength(1 + february.coverage.definitions.length + 1);
		for (const svg of svgs) expect({ svg: svg.slice(0, 80), valid: XMLValidator.validate(svg) }).toMatchObject({ valid: true });
		expect((html.match(/<table/g) ?? []).length).toBeGreaterThanOrEqual(5);
		for (const { name } of february.coverage.definitions) expect(html).toContain(name.slice(0, 20));
		expect(february.months.map(({ month }) => month)).toEqual([
			...[
				"2025-03",
				"2025-04",
				"2025-05",
				"2025-06",
				"2025-07",
				"2025-08",
				"2025-09",
				"2025-10",
				"2025-11",
				"2025-12",
				"2026-01",
			],
			"2026-02",
		]);
	});

	it("takes no name for a part of the document, and asks nothing of another machine", () => {
		const html = reportHtml(february);
		expect(html).not.toContain("<script");
		expect(html).toContain("&#60;script&#62;alert(&#34;&#38;&#34;)&#60;/script&#62;");
		expect(html.replaceAll('xmlns="http://www.w3.org/2000/svg"', "")).not.toMatch(/(src|href|url|http)s?[=(:]/i);
		const body = html.slice(html.indexOf("<main>"), html.indexOf("</body>"));
		expect(XMLValidator.validate(body)).toBe(true);
	});

	it("tells when and from which head of the ledger it was made, and warns of a month that isn't over and of few that were counted", () => {
		const html = reportHtml(march);
		expect(march.coverage.period.isPartial).toBe(true);
		expect(html).toContain("The month isn't over: counted up to");
		expect(html).toContain(headText(march.head));
		expect(html).toContain(`Made on ${new Date(NOW).toISOString().slice(0, 10)}`);
		expect(html).toContain("Fewer than 30 were counted");
		expect(reportHtml(february)).not.toContain("The month isn&#39;t over");
		expect(reportHtml({ ...march, waiting: { entries: 3, oldestAtMs: 0 } })).toContain("3 entries waited to be sealed");
	});

	it("is the same to the last byte from each database", () => {
		for (const other of others)
			for (const [i, report] of [february, march].entries())
				expect(reportHtml({ ...other[i]!, head: report.head })).toBe(reportHtml(report));
	});

	it("counts what went wrong as it stood when the month ended, whatever became of it since, and names what was open longest", () => {
		const html = reportHtml(february);
		// Opened, closed, left at its end: not looked into, looked into.
		expect(cellsOf(html, "Weak bleach used").slice(0, 4)).toEqual(["1", "1", "0", "0"]);
		expect(cellsOf(html, "Unfit water given out").slice(0, 4)).toEqual(["1", "0", "1", "0"]);
		expect(cellsOf(html, "Task never answered").slice(0, 4)).toEqual(["0", "0", "0", "1"]);
		expect(cellsOf(html, "Generator out").slice(0, 4)).toEqual(["0", "0", "0", "0"]);
		expect(cellsOf(html, "Weak bleach used")[4]).toContain("under strength");
		const listed = html.slice(html.indexOf("Open longest"));
		// From 15 January 09:00 to 1 March 00:00 there (UTC+3): 44 whole days.
		expect(cellsOf(listed, "Task never answered")).toEqual(["K7QD", "NAT", "2026-01-15", "44", "looked into"]);
		expect(cellsOf(listed, "Unfit water given out")).toEqual(["&#60;b&#62;C-9", "EAST", "2026-02-20", "8", "open"]);
		expect(html).toContain("1 incident of unfit water was open and not looked into: see to it first");
		expect(html).toContain("not who is to blame. What nobody told");
		const later = reportHtml(march);
		expect(cellsOf(later, "Unfit water given out").slice(0, 4)).toEqual(["0", "0", "0", "1"]);
		expect(cellsOf(later, "Task never answered").slice(0, 4)).toEqual(["0", "1", "0", "0"]);
		expect(later).not.toContain("not looked into: see to");
	});

	it("tells the month's independent samples with decision, both risks and what they can't tell; and says where there was none", () => {
		expect(reportHtml(february)).toContain("No sample was drawn in this month");
		const html = reportHtml(march);
		// The smallest sample that tells 80 from 50 % with both risks to 10 %: 19 with the rule 13 (Valadez et al. 2003), fewer of a small lot.
		const [{ plan }, untouched] = march.samples as [MonthSample, MonthSample];
		const { decisionRule, alpha, beta } = plan.lot!;
		expect(plan.households).toBeLessThanOrEqual(19);
		expect(plan.households - 3).toBeGreaterThanOrEqual(decisionRule);
		expect(html).toContain(
			`<strong>Decision: reaches target</strong>, by positive residual: ${plan.households - 3} of ${plan.households} passed, at least ${decisionRule} must; 1 not read. ` +
				`The risk to class an area at 80.0 % as below is ${percent(alpha)}, one at 50.0 % as reaching it ${percent(beta)}.`,
		);
		expect(html).toContain(`${plan.households - 1} seen, 1 absent, 0 refused, 0 still to be visited`);
		expect(cellsOf(html, "Positive residual").slice(0, 2)).toEqual([`${plan.households - 3}`, `${plan.households - 1}`]);
		expect(untouched.judged.verdict).toMatchObject({ class: "open" });
		expect(html).toContain("<strong>Decision: open</strong>");
		for (const caution of [
			"neither measures a share nor ranks",
			"can turn it either way",
			"absent or refused may differ",
			"Chlorine fades",
		])
			expect(html).toContain(caution);
	});

	it("of a month that is none, or is still to come, is refused with what would be right", async () => {
		const world = await newWorld("sqlite");
		try {
			await settle(world);
			const of = (month: string) => world.the(MonthlyReports).of({ areaCode: "A1", month });
			for (const month of ["2026-13", "2026-1", "202603", "march"]) await expect(of(month)).rejects.toThrow("such as 2026-10");
			await expect(of("2027-01")).rejects.toMatchObject({ code: "time-in-future" });
			await expect(world.the(MonthlyReports).of({ areaCode: "nowhere", month: "2026-02" })).rejects.toMatchObject({
				code: "unknown-area",
			});
		} finally {
			await world.remove();
		}
	});

	const browser = browserPath(process.env["JARWATCH_TEST_CHROMIUM"]);
	(browser !== undefined && existsSync(browser) ? it : it.skip)(
		"is printed as a PDF, twice with the same bytes (left out where there is no Chromium)",
		async () => {
			const html = reportHtml(february);
			const [once, again] = [await printedPdf(browser!, html, NOW), await printedPdf(browser!, html, NOW)];
			expect(once.subarray(0, 5).toString()).toBe("%PDF-");
			const digits = new Date(NOW).toISOString().replace(/\D/g, "").slice(0, 14);
			expect(once.includes(`/CreationDate (D:${digits}`)).toBe(true);
			expect(once.equals(again)).toBe(true);
		},
		120_000,
	);

	it("isn't printed by a browser that isn't there, and says that the HTML is", async () => {
		await expect(printedPdf("/nowhere/browser", "<p>", 0)).rejects.toMatchObject({ code: "no-browser" });
	});
});

describe("the words of a report", () => {
	const figure = (numerator: number, share: number, low: number, high: number) => ({
		...{ indicator: "i", numerator, denominator: 100, missing: 0, share, low, high },
	});

	it("say that a change may be chance where the intervals overlap", () => {
		expect(change(figure(80, 0.8, 0.711, 0.867), figure(50, 0.5, 0.404, 0.596))).toBe("+30.0");
		expect(change(figure(55, 0.55, 0.452, 0.644), figure(50, 0.5, 0.404, 0.596))).toBe("+5.0, may be chance");
		expect(change(figure(40, 0.4, 0.309, 0.498), figure(80, 0.8, 0.711, 0.867))).toBe("−40.0");
		expect(change(figure(40, 0.4, 0.3, 0.5), undefined)).toBe("–");
		expect(count(1234567)).toBe("1,234,567");
	});
});
