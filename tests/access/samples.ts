import type { Names } from "./parts.js";

/** What a route is asked with so that it gets as far as the thing it touches; a route with a body needs a line here. */
export interface Sample {
	readonly body?: object;
	readonly parameters?: Readonly<Record<string, string>>;
	readonly headers?: Readonly<Record<string, string>>;
}

const ANY_TAG = { "if-match": "*" };
const PROTOCOL = { code: "two-dose", version: "1" };
const PERIOD = { from: "2026-03-01", to: "2026-03-02" };

/** @param n names of things within the caller's part */
export const SAMPLES: Readonly<Record<string, (n: Names) => Sample>> = {
	"POST /accounts": (n) => ({ body: { login: "invented", personCode: n.person } }),
	"POST /accounts/:id/state": () => ({ body: { isActive: true } }),
	"POST /account/password": () => ({ body: {} }),
	"POST /account/second-factor": () => ({ body: {} }),
	"POST /account/second-factor/confirm": () => ({ body: {} }),
	"POST /account/second-factor/off": () => ({ body: {} }),
	"POST /api-keys": (n) => ({ body: { name: "invented", scopes: ["read"], areaCode: n.area } }),
	"PUT /people/:code/areas": (n) => ({ body: { areaCodes: [n.area] } }),
	"POST /areas/:code/assignment": (n) => ({ body: { volunteerCode: n.person }, headers: ANY_TAG }),
	"POST /assignment-proposals": (n) => ({ body: { areaCode: n.area } }),
	"POST /assignment-proposals/:id/accept": () => ({ body: {}, headers: ANY_TAG }),
	"POST /audit-samples": (n) => ({
		body: {
			areaCode: n.area,
			aims: { kind: "size", households: 1 },
			auditorCodes: [n.person],
			reportedFrom: "2026-03-01",
			reportedTo: "2026-03-02",
		},
	}),
	"POST /audit-samples/:id/visits/:household/result": (n) => ({
		body: { outcome: "absent", visitedAt: "2026-03-03T03:50:00Z", byPersonCode: n.person },
	}),
	"POST /batches": (n) => ({
		body: {
			code: "NEW-1",
			areaCode: n.area,
			keeperCode: n.person,
			generatorCode: n.generator,
			madeAt: "2026-03-01T06:00:00Z",
			volumeL: 5,
			madeStrengthGPerL: 5,
			saltGPerL: 30,
			wall: "opaque",
			exposure: "indoors",
		},
	}),
	"POST /batches/:code/moves": () => ({ body: { kind: "counted", volumeMl: 4000 } }),
	"POST /batches/:code/strength-tests": () => ({ body: { sampleMl: 1, madeUpToL: 2, reading: "2" } }),
	"POST /batteries": (n) => ({ body: { code: "NEW-2", areaCode: n.area, generatorCode: n.generator, ratedAh: 100 } }),
	"POST /batteries/:code/care": () => ({ body: { work: "charged" } }),
	"POST /batteries/:code/readings": () => ({ body: { restVoltageV: 12.6 } }),
	"POST /containers/:code/cleanings": () => ({ body: {} }),
	"POST /containers/:code/emptied": () => ({ body: {} }),
	"POST /doses": (n) => ({ body: { containerCode: n.container, batchCode: n.batch, waterL: 20, bleachMl: 8.5 } }),
	"POST /generators/:code/care": () => ({ body: { works: ["rinsed"] } }),
	"POST /generators/:code/in-service": () => ({ body: {} }),
	"POST /generators/:code/out-of-service": () => ({ body: { reason: "invented" } }),
	"POST /generators/:code/runs": () => ({
		body: { startedAt: "2026-03-03T03:50:00Z", saltG: 150, waterL: 5, powerSource: "mains" },
	}),
	"POST /generators/:code/runs/end": () => ({ body: {} }),
	"POST /households/:code/containers": () => ({ body: { code: "NEW-3", volumeL: 20, kind: "narrow mouth" } }),
	"POST /ledger/heads": () => ({ body: { how: "printed" } }),
	"POST /imports/:kind": () => ({ parameters: { kind: "areas" } }),
	"GET /incidents/counts": () => ({ parameters: { from: "2026-03-01T00:00:00Z", until: "2026-04-01T00:00:00Z" } }),
	"POST /incidents/:id/close": () => ({ body: { because: "an invented reason" } }),
	"POST /incidents/:id/notes": () => ({ body: { note: "an invented finding" } }),
	"POST /kit-lots": (n) => ({
		body: {
			code: "NEW-4",
			kit: "comparator 0-5",
			lot: "2",
			areaCode: n.area,
			holderCode: n.person,
			receivedOn: "2026-01-01",
			expiresOn: "2027-01-01",
		},
	}),
	"POST /kit-lots/:code/opened": () => ({ body: { openedOn: "2026-03-01" } }),
	"POST /messages/preview": (n) => ({
		body: { personCode: n.person, text: "jar.weak", fill: { jar: "J", strengthGPerL: 2 } },
	}),
	"POST /people/:code/hand-over": () => ({ body: { reason: "ill" } }),
	"POST /people/:code/push-subscriptions": () => ({
		body: {
			endpoint: "https://push.example.org/1",
			keys: { p256dh: Buffer.alloc(65, 4).toString("base64url"), auth: Buffer.alloc(16).toString("base64url") },
		},
	}),
	"POST /people/:code/return": () => ({ body: {} }),
	"POST /protocols": () => ({ body: {} }),
	"POST /protocols/:code/:version/default": () => ({ parameters: PROTOCOL }),
	"POST /protocols/:code/:version/households": (n) => ({ parameters: PROTOCOL, body: { areaCode: n.area, why: "invented" } }),
	"POST /protocols/check": () => ({ body: {} }),
	"POST /residual-checks": (n) => ({ body: { containerCode: n.container, freeChlorineMgPerL: 0.5 } }),
	"POST /stock-items": (n) => ({ body: { code: "NEW-5", kind: "salt", holderCode: n.person, quantity: 1 } }),
	"POST /stock-items/:code/moves": () => ({ body: { kind: "counted", quantity: 900 } }),
	"POST /tasks/:code/acknowledge": () => ({ body: {} }),
	"POST /tasks/:code/answer": () => ({ body: { answer: "reading", reading: "2" } }),
	"POST /tasks/:code/hand-over": (n) => ({ body: { toPersonCode: n.person } }),
	"PUT /areas/:code/holidays": () => ({ body: { holidays: [] } }),
	"PUT /assignment-proposals/:id/lines/:household": (n) => ({ body: { volunteerCode: n.person }, headers: ANY_TAG }),
	"PUT /households/:code/assignment": (n) => ({ body: { volunteerCode: n.person }, headers: ANY_TAG }),
	"PUT /households/:code/habits": () => ({ body: {} }),
	"POST /people/:code/consents": () => ({
		body: { purpose: "records", textVersion: "1", obtained: "on paper", givenAt: "2026-03-01T00:00:00Z" },
	}),
	"POST /people/:code/consents/withdrawal": () => ({ body: { purpose: "records", by: "by phone" } }),
	"PUT /people/:code/capacity": () => ({ body: {}, headers: ANY_TAG }),
	"PUT /programme": () => ({ body: {} }),
	"GET /batches/:code/dose": () => ({ parameters: { waterL: "20", turbidity: "clear" } }),
	"GET /protocols/:code/:version": () => ({ parameters: PROTOCOL }),
	"GET /reading-checks": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage/months": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage/figures.csv": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage/figures.xlsx": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage/figures.geojson": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /coverage/figures.adx": (n) => ({ parameters: { area: n.area, ...PERIOD } }),
	"GET /reports/monthly.html": (n) => ({ parameters: { area: n.area, month: "2026-03" } }),
	"GET /reports/monthly.pdf": (n) => ({ parameters: { area: n.area, month: "2026-03" } }),
	"GET /coverage/records": (n) => ({ parameters: { area: n.area, indicator: "households-assigned", ...PERIOD } }),
	"GET /texts": () => ({ parameters: { language: "en" } }),
};

/** What a body touches in one of several forms: the form that has it. */
export const OTHER_FORMS: Readonly<Record<string, (n: Names) => object>> = {
	"POST /batches/:code/moves to": (n) => ({ kind: "handed over", to: { keeperCode: n.person } }),
	"POST /batches/:code/moves into": (n) => ({ kind: "drawn off", volumeMl: 10, into: { code: "NEW-6", keeperCode: n.person } }),
	"POST /protocols/:code/:version/households householdCodes": (n) => ({ householdCodes: [n.household], why: "invented" }),
	"POST /stock-items generatorCode": (n) => ({ code: "NEW-7", kind: "salt", generatorCode: n.generator, quantity: 1 }),
};
