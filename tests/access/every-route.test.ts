import { ApiKeys } from "../../src/access/api-keys.js";
import { AccountRow } from "../../src/access/rows.js";
import { isRule, type Role, RULES, type RuleName, SCOPES, type Scope } from "../../src/access/rules.js";
import { Sessions } from "../../src/access/sessions.js";
import type { SubjectKind } from "../../src/access/subjects.js";
import type { OpenApiDocument } from "../../src/api/edge/open-api.js";
import type { KnownRoute } from "../../src/api/edge/routes.js";
import { namedIn } from "../../src/api/edge/touches.js";
import { NO_CHANNELS } from "../../src/settings/channels/channels.js";
import { type Answer, GATEWAY_SECRET, KEY, type Served, served } from "../api/served.js";
import { onEachDatabase } from "../support/stores.js";
import { START_MS } from "../support/world.js";
import { type Names, namesOf, type Side, threeParts } from "./parts.js";
import { OTHER_FORMS, SAMPLES } from "./samples.js";

/** Somebody who asks: how she shows herself, what is hers, and what she may never read of. */
interface Asker {
	readonly who: string;
	readonly roles: readonly Role[];
	readonly scopes: readonly Scope[];
	readonly headers: Readonly<Record<string, string>>;
	readonly inside: Side;
	readonly outside: Side;
	readonly hidden: RegExp;
	readonly isWhole?: true;
}

const MISSING: Partial<Record<SubjectKind, string>> = {
	message: "missing1",
	reply: "missing1",
	"assignment proposal": "missing1",
	"audit sample": "missing1",
	incident: "missing1",
	task: "MISSING1",
};

onEachDatabase("every route of the running service", (kind) => {
	let api: Served;
	let routes: KnownRoute[];
	const askers: Asker[] = [];

	beforeAll(async () => {
		const push = {
			contact: "mailto:office@example.org",
			publicKey: "-",
			privateKey: "-",
			hosts: ["push.example.org"],
			keepHours: 24,
		};
		api = await served(kind, { apiKey: KEY, inboundSecret: GATEWAY_SECRET, channels: { ...NO_CHANNELS, "web-push": push } });
		await threeParts(api.world.store);
		routes = api.routes.known.filter(({ method, access }) => method !== "HEAD" && isRule(access));
		const ofSupervisor = { inside: "near", outside: "out", hidden: namesIn("out") } as const;
		const volunteer = { inside: "mine", outside: "near", hidden: namesIn("out", "near") } as const;
		askers.push(
			{ who: "a volunteer", roles: ["volunteer"], scopes: [], headers: await signedIn({ personId: "MINE-V" }), ...volunteer },
			{ who: "a supervisor", roles: ["supervisor"], scopes: [], headers: await withAccount("IN-S"), ...ofSupervisor },
			{ who: "the health office", roles: ["health office"], scopes: [], headers: await withAccount("IN-O"), ...ofSupervisor },
		);
		for (const scope of SCOPES)
			askers.push({ who: `a key to ${scope}`, roles: [], scopes: [scope], headers: await key(scope), ...ofSupervisor });
		askers.push({
			who: "an administrator",
			roles: ["administrator"],
			scopes: [],
			headers: await withAccount(null),
			...ofSupervisor,
			hidden: /^never$/,
			isWhole: true,
		});
	}, 60_000);
	afterAll(() => api.close());

	const may = ({ roles, scopes }: Asker, access: RuleName) => {
		const { roles: allowed, scope }: { roles: readonly Role[]; scope: Scope | null } = RULES[access];
		return allowed.some((role) => roles.includes(role)) || (scope !== null && scopes.includes(scope));
	};

	it("refuses whoever isn't signed in with 401", async () => {
		expect(routes.length).toBeGreaterThan(80);
		for (const route of routes) {
			const answer = await ask(route, { headers: {}, names: namesOf("near") });
			expect([route.method, route.pattern, answer.status]).toEqual([route.method, route.pattern, 401]);
		}
	});

	it("refuses whoever has neither role nor scope for it with 403, whatever she asks for", async () => {
		for (const asker of askers)
			for (const route of routes) {
				const isWholeOnly = route.touches.includes("whole") && !asker.isWhole;
				if (may(asker, route.access as RuleName) && !isWholeOnly) continue;
				const { status } = await ask(route, { headers: asker.headers, names: namesOf(asker.inside) });
				expect([asker.who, route.method, route.pattern, status]).toEqual([asker.who, route.method, route.pattern, 403]);
			}
	});

	it("answers of what is outside one's part as of what doesn't exist, and of what is inside otherwise", async () => {
		const wrong: string[] = [];
		let tried = 0;
		for (const asker of askers.filter(({ isWhole }) => !isWhole))
			for (const route of routes.filter(({ access, touches }) => may(asker, access as RuleName) && !touches.includes("whole")))
				for (const touch of namedIn(route.touches)) {
					tried++;
					const base = { headers: asker.headers, names: namesOf(asker.inside) };
					const named = (name: string) => ask(route, { ...base, put: { ...touch, name } });
					const outside = await named(namesOf(asker.outside)[touch.kind]);
					const note = (what: string, ...answers: Answer[]) =>
						wrong.push(
							`${asker.who}, ${route.method} ${route.pattern}, ${touch.kind} ${touch.path.join(".")}: ${what} ${answers.map(told).join(" | ")}`,
						);
					// What names nothing must not pass for something: no change, and no more than an empty answer.
					if (route.method !== "GET" && outside.status < 400) note("is changed from outside", outside);
					if (touch.isNew) continue;
					const missing = await named(MISSING[touch.kind] ?? "MISSING-1");
					if (told(outside) !== told(missing)) note("outside isn't answered as missing", outside, missing);
					const inside = await named(base.names[touch.kind]);
					if (inside.status === 500) note("inside fails", inside);
					// What a body names besides may be refused for other reasons, or after what another try has changed.
					if (touch.source === "body" || inside.status === 409) continue;
					if (told(inside) === told(missing)) note("inside is answered as missing", inside);
					if ([401, 403].includes(inside.status)) note("inside is refused", inside);
				}
		expect(wrong).toEqual([]);
		expect(tried).toBeGreaterThan(300);
	}, 300_000);

	it("lists what is inside one's part and nothing of what isn't", async () => {
		for (const asker of askers)
			for (const route of routes.filter(({ access, touches }) => touches.includes("list") && may(asker, access as RuleName))) {
				const answer = await ask(route, { headers: asker.headers, names: namesOf(asker.inside) });
				const on = { asker: asker.who, route: route.pattern };
				expect({ ...on, status: answer.status, hidden: asker.hidden.test(answer.text) }).toEqual({
					...on,
					status: 200,
					hidden: false,
				});
				expect({ ...on, isEmpty: answer.body.items.length === 0 }).toEqual({ ...on, isEmpty: false });
			}
	});

	it("lets an administrator, and the key of the settings, use each of them", async () => {
		// Whoever has signed out may ask for nothing more.
		for (const route of routes.filter(({ pattern }) => pattern !== "/sessions/current/end")) {
			const asAdministrator = await ask(route, { headers: askers.at(-1)!.headers, names: namesOf("near") });
			expect([route.method, route.pattern, [401, 403].includes(asAdministrator.status)]).toEqual([
				route.method,
				route.pattern,
				false,
			]);
			if (route.access === "own") continue;
			const withKey = await ask(route, { headers: undefined, names: namesOf("near") });
			expect([route.method, route.pattern, [401, 403].includes(withKey.status)]).toEqual([route.method, route.pattern, false]);
		}
	});

	it("say of every thing that a body or an address can name that they touch it, and name nothing that isn't there", () => {
		const wrong: string[] = [];
		for (const { method, pattern, touches } of routes) {
			const operation = api.document.paths[pattern.replace(/:(\w+)/g, "{$1}")]![method.toLowerCase()]!;
			const declared = namedIn(touches).map(({ source, path }) => `${source}.${path.join(".").replace(".[]", "[]")}`);
			const parameters = operation.parameters as unknown as { name: string; in: string }[];
			const there = [
				...parameters.filter((one) => one.in !== "header").map((one) => `${one.in}.${one.name}`),
				...membersOf(api.document, bodySchema(operation)).map((path) => `body.${path}`),
			];
			if ("requestBody" in operation && !SAMPLES[`${method} ${pattern}`])
				wrong.push(`${method} ${pattern} has no line in samples.ts`);
			for (const one of declared) if (!there.includes(one)) wrong.push(`${method} ${pattern} has no ${one}`);
			for (const one of there.filter((path) => NAMES_SOMETHING.test(path)))
				if (!declared.includes(one)) wrong.push(`${method} ${pattern} doesn't say that it touches ${one}`);
		}
		expect(wrong).toEqual([]);
	});

	async function ask(
		{ method, pattern, touches }: KnownRoute,
		how: {
			headers: Readonly<Record<string, string>> | undefined;
			names: Names;
			put?: { kind: SubjectKind; source: string; path: readonly string[]; name: string };
		},
	): Promise<Answer> {
		const route = `${method} ${pattern}`;
		const { names, put } = how;
		const sample = SAMPLES[route]?.(names);
		const consumesBody = method !== "GET";
		const form = put?.source === "body" ? OTHER_FORMS[`${route} ${put.path[0]}`] : undefined;
		const body = form?.(names) ?? structuredClone(sample?.body);
		const query = new URLSearchParams();
		const parameters: Record<string, string> = { ...sample?.parameters };
		for (const touch of namedIn(touches)) if (touch.source === "path") parameters[touch.path[0]!] ??= names[touch.kind];
		if (put?.source === "path") parameters[put.path[0]!] = put.name;
		if (put?.source === "body") place(body as Record<string, unknown>, put.path, put.name);
		const path = pattern.replace(/:(\w+)/g, (_, name: string) => encodeURIComponent(parameters[name] ?? "x"));
		for (const [name, value] of Object.entries(sample?.parameters ?? {}))
			if (!pattern.includes(`:${name}`)) query.set(name, value);
		if (put?.source === "query") query.set(put.path[0]!, put.name);
		const url = query.size > 0 ? `${path}?${query}` : path;
		const isCsv = route === "POST /imports/:kind";
		const headers = { ...(how.headers ? { authorization: "", ...how.headers } : {}), ...sample?.headers };
		return api.ask(method as "GET", url, {
			...(consumesBody && body !== undefined && { body }),
			...(isCsv && { raw: "code\n" }),
			headers: isCsv ? { ...headers, "content-type": "text/csv" } : headers,
		});
	}

	function signedIn(holder: { personId: string } | { accountId: string }): Promise<Record<string, string>> {
		return api.world.store.work.run(async (tx) => {
			const { secret } = await api.world.the(Sessions).begin(tx, holder, undefined);
			return { cookie: `session=${secret}`, "sec-fetch-site": "same-origin" };
		});
	}

	async function withAccount(personId: string | null): Promise<Record<string, string>> {
		const id = `account-${personId ?? "admin"}`;
		const account: AccountRow = {
			id,
			login: id,
			personId,
			administrator: personId === null,
			active: true,
			passwordHash: null,
			passwordSetAtMs: null,
			totpSecret: null,
			totpSinceMs: null,
			totpLastStep: null,
			createdAtMs: START_MS,
		};
		await api.world.store.work.run((tx) => tx.manager.insert(AccountRow, account));
		return signedIn({ accountId: id });
	}

	async function key(scope: Scope): Promise<Record<string, string>> {
		const wanted = { name: "Invented", scopes: [scope], areaId: "IN", endsAtMs: START_MS + 1e9 };
		return { authorization: `Bearer ${(await api.world.the(ApiKeys).make(wanted, "office")).key}` };
	}
});

/** Names of members and parameters by which requests name things that belong to somebody. */
const NAMES_SOMETHING =
	/(Codes?(\[\])?|\.(productionPoint|furtherOfRun|area|assignee|generator|holder|keeper|volunteer|recipient|person|supervisor|task|household))$/;

function bodySchema(operation: object): object {
	const content = (operation as { requestBody?: { content?: Record<string, { schema: object }> } }).requestBody?.content;
	return content?.["application/json"]?.schema ?? {};
}

/** @returns the path of every member that a body may have, in any of its forms */
function membersOf(document: OpenApiDocument, schema: object): string[] {
	const {
		$ref,
		anyOf = [],
		oneOf = [],
		allOf = [],
		properties = {},
		items,
	} = schema as {
		$ref?: string;
		anyOf?: object[];
		oneOf?: object[];
		allOf?: object[];
		properties?: Record<string, object>;
		items?: object;
	};
	if ($ref) return membersOf(document, document.components.schemas[$ref.split("/").at(-1)!] as object);
	const own = Object.entries(properties).flatMap(([name, inner]) => [
		...("items" in inner ? [`${name}[]`] : isObject(document, inner) ? [] : [name]),
		...membersOf(document, inner).map((path) => `${name}${path.startsWith("[]") ? "" : "."}${path}`),
	]);
	const listed = items ? membersOf(document, items).map((path) => `[].${path}`) : [];
	return [...new Set([...own, ...listed, ...[...anyOf, ...oneOf, ...allOf].flatMap((one) => membersOf(document, one))])];
}

function isObject(document: OpenApiDocument, schema: object): boolean {
	return membersOf(document, schema).length > 0;
}

/** Any of the names of some sides' things. */
function namesIn(...sides: Side[]): RegExp {
	return new RegExp(sides.flatMap((side) => Object.values(namesOf(side))).join("|"));
}

/** All that an answer tells, but for the number of the request. */
function told({ status, text }: Answer): string {
	return `${status} ${text.replace(/"instance":"[^"]*"/, "")}`;
}

function place(body: Record<string, unknown>, path: readonly string[], name: string): void {
	const [step, ...rest] = path;
	if (step === undefined) return;
	if (rest.length === 0) body[step] = name;
	else if (rest[0] === "[]") body[step] = [name];
	else {
		body[step] ??= {};
		place(body[step] as Record<string, unknown>, rest, name);
	}
}
