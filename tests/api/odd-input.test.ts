import fc from "fast-check";
import { onEachDatabase } from "../support/stores.js";
import { aBatch } from "../support/world.js";
import { ABOUT_THE_INTERFACE } from "./answer-checker.js";
import { type Served, served } from "./served.js";

/** Names that are known somewhere, so that odd values reach more than the first check. */
const NAMES = [
	"code",
	"areaCode",
	"keeperCode",
	"madeAt",
	"volumeL",
	"reading",
	"answer",
	"messageId",
	"from",
	"text",
	"name",
	"rules",
	"waterL",
	"bleachMl",
	"containerCode",
	"batchCode",
	"freeChlorineMgPerL",
	"volunteerCode",
	"toPersonCode",
	"byPersonCode",
	"reason",
	"sampleMl",
	"madeUpToL",
	"kit",
	"wall",
	"ph",
];
const PARAMETERS = [
	"limit",
	"sort",
	"cursor",
	"area",
	"state",
	"role",
	"keeper",
	"assignee",
	"late",
	"task",
	"recipient",
	"outcome",
	"subject",
	"to",
	"waterL",
	"turbidity",
	"again",
];
const REAL = [
	"B1",
	"A1",
	"vol",
	"open",
	"in use",
	"2026-03-03T00:00:00Z",
	"reading",
	"done",
	"clear",
	"opaque",
	"shade",
	"comparator 0-5",
	1,
	5,
	0.5,
	20,
	true,
	null,
];

const value = fc.oneof(
	fc.constantFrom(...REAL),
	fc.jsonValue({ maxDepth: 3 }),
	fc.double(),
	fc.string({ unit: "binary", maxLength: 30 }),
);
const bodies = fc.oneof(
	{ weight: 4, arbitrary: fc.dictionary(fc.constantFrom(...NAMES), value, { maxKeys: 12 }) },
	{ weight: 1, arbitrary: fc.jsonValue() },
);
const texts = fc.oneof(
	fc.constantFrom(...REAL.map(String)),
	fc.string({ unit: "grapheme", maxLength: 30 }),
	fc.string({ unit: "binary-ascii", maxLength: 30 }),
	fc.bigInt().map(String),
);

onEachDatabase("odd input", (kind) => {
	let api: Served;
	beforeAll(async () => {
		api = await served(kind);
		await aBatch(api.world);
	});
	afterAll(() => api.close());

	it("is never answered with 5xx on any route, and always as the document says", async () => {
		const routes = api.routes.known.filter(
			({ method, pattern }) => method !== "HEAD" && !ABOUT_THE_INTERFACE.includes(pattern) && pattern !== "/metrics",
		);
		const asked = fc.record({
			route: fc.constantFrom(...routes),
			name: texts,
			query: fc.dictionary(fc.constantFrom(...PARAMETERS), texts, { maxKeys: 3 }),
			hasQuery: fc.boolean(),
			body: bodies,
		});
		await fc.assert(
			fc.asyncProperty(asked, async ({ route, name, query, hasQuery, body }) => {
				// A dot segment is another address before it is sent.
				const inPath = encodeURIComponent(name.replace(/^\.{1,2}$/, "x")) || "x";
				const url = route.pattern.replace(/:\w+/g, inPath) + (hasQuery ? `?${new URLSearchParams(query)}` : "");
				const headers = route.method === "PUT" || route.pattern.startsWith("/a") ? { "if-match": "*" } : undefined;
				const isCsv = route.pattern.startsWith("/imports");
				const sent =
					route.method === "GET"
						? {}
						: isCsv
							? { raw: name, headers: { "content-type": "text/csv" } }
							: { body, ...(headers && { headers }) };
				const { status, text } = await api.ask(route.method as "GET", url, sent);
				if (status >= 500) throw new Error(`${route.method} ${url} ${JSON.stringify(body)}: ${text}`);
			}),
			{ numRuns: 600, seed: 2026 },
		);
	});
});
