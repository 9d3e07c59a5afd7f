import type { FastifyRequest } from "fastify";
import { type Caller, officeCaller } from "../../access/caller.js";
import type { Callers } from "../../access/callers.js";
import { isRule, mayUse, type RuleName } from "../../access/rules.js";
import { formTokenOf } from "../../access/sessions.js";
import { DefectError } from "../../errors/errors.js";
import { isProven, isSame, isSigned } from "../../messages/inbound/proof.js";
import type { InboundGateway } from "../../settings/channels/inbound.js";
import type { Settings } from "../../settings/settings.js";
import type { Store } from "../../store/store.js";
import { cookieOf, isThisMachine } from "./cookies.js";
import { Pace } from "./pace.js";
import { peerOf } from "./peer.js";
import { EdgeRefusal } from "./problem.js";
import { formTokenRefusal, otherSiteRefusal } from "./same-site.js";
import { keepWithinPart, type Touch } from "./touches.js";
import { assertWellFormed } from "./well-formed.js";

export type Secrets = Pick<Settings, "apiKey" | "inboundSecret"> &
	Partial<Pick<Settings, "channels" | "proxies" | "requestsPerMinute">>;
type Proof = (request: FastifyRequest, secrets: Secrets) => EdgeRefusal | undefined;

/** Routes that ask for no caller of the programme's own; what the others ask for stands in `RULES`. */
const PROOFS = {
	/** Anybody: says whether the service lives, how it is spoken to, and lets people sign in. */
	open: () => undefined,
	/** A page looks itself who is signed in, and shows a stranger the way to sign in: see `pages/routes.ts`. */
	page: () => undefined,
	/** Whoever has the address, in which a secret stands: a phone's calendar can send nothing else. The service behind it checks it. */
	calendar: () => undefined,
	/**
	 * A message gateway: one that is set up shows itself as its settings say (a signature is looked at once the body is there: `bodyRefusal`);
	 * any other knows the secret of incoming texts, and without a secret it must be on this machine.
	 */
	gateway: (request, { inboundSecret, channels }) => {
		const named = gatewayNamed(request, channels);
		if (named) return named.gateway && isProven(named.gateway, request.headers) ? undefined : forbidden(NOT_THE_GATEWAY);
		if (inboundSecret === undefined) return isThisMachine(request) ? undefined : forbidden(NO_SECRET_SET);
		const given = request.headers["x-inbound-secret"];
		return typeof given === "string" && isSame(given, inboundSecret)
			? undefined
			: forbidden("X-Inbound-Secret isn't the right one.");
	},
} as const satisfies Record<string, Proof>;

export type OpenAccess = keyof typeof PROOFS;
export type Access = OpenAccess | RuleName;

/** Who may use a route, and which part of the programme it touches. */
export type RouteAccess =
	| { readonly access: OpenAccess; readonly touches?: never }
	| { readonly access: RuleName; readonly touches: readonly [Touch, ...Touch[]] };

declare module "fastify" {
	interface FastifyContextConfig {
		access?: Access;
		touches?: readonly Touch[];
	}
	interface FastifyRequest {
		/** Who asks; none where a route is open and nobody is signed in. */
		caller: Caller | null;
		/** The address by which tries are counted; see `peerOf`. */
		peer: string;
		/** What a form of the caller's pages sends along as `token`; none: she isn't signed in by a cookie. */
		formToken: string | null;
	}
}

/** What the door needs to know people by. */
export interface Door {
	readonly secrets: Secrets;
	readonly callers: Callers;
	readonly store: Store;
	readonly pace: Pace;
}

/**
 * The one place that every request comes through: who asks, whether she may, and only what is in her part.
 * @throws EdgeRefusal 401 or 403
 */
export async function letIn(request: FastifyRequest, door: Door): Promise<void> {
	request.peer = peerOf(request, door.secrets.proxies);
	if (request.is404) return;
	const { access, touches } = request.routeOptions.config;
	// The router has refused such a route at the start already; should it ever get here, nobody may use it.
	if (!access) throw new DefectError("a route doesn't say who may use it");
	if (isRule(access)) {
		request.caller = await callerOf(request, door).catch(async (refusal: unknown) => {
			await door.pace.take(request);
			throw refusal;
		});
		await door.pace.take(request);
		assertMay(request.caller, access, touches ?? []);
		assertOwnSite(request);
		// Before the things that it names are looked up.
		assertWellFormed(request.params, "parameter");
		assertWellFormed(request.query, "parameter");
		await keepWithinPart(request, request.caller, touches ?? [], ["path", "query"], door.store);
		return;
	}
	const refusal = PROOFS[access](request, door.secrets);
	if (refusal) throw refusal;
	if (access !== "open" && access !== "page") return;
	request.caller = (await bySession(request, door)) ?? null;
	if (!isThisMachine(request)) await door.pace.take(request);
	assertOwnSite(request);
}

/** The same of what the body says, once it is there. */
export async function letBodyIn(request: FastifyRequest, { secrets, store }: Door): Promise<void> {
	if (request.is404) return;
	const { access, touches, by } = request.routeOptions.config;
	if (access === "gateway") {
		const refusal = signatureRefusal(request, secrets);
		if (refusal) throw refusal;
	}
	const { caller } = request;
	if (!caller) return;
	const secret = request.formToken === null ? undefined : cookieOf(request, "session");
	const refusal = secret === undefined ? undefined : formTokenRefusal(request, secret);
	if (refusal) throw refusal;
	await keepWithinPart(request, caller, touches ?? [], ["body"], store);
	if (by) nameCaller(request.body, by, caller);
}

async function callerOf(request: FastifyRequest, door: Door): Promise<Caller> {
	const { authorization } = request.headers;
	const { apiKey } = door.secrets;
	if (authorization !== undefined && authorization !== "") {
		const given = /^Bearer +([A-Za-z0-9._~+/=-]+) *$/i.exec(authorization)?.[1];
		if (given === undefined) throw keyNeeded();
		if (apiKey !== undefined && isSame(given, apiKey)) return officeCaller();
		const byKey = await door.callers.byKey(given);
		if (byKey) return byKey;
		throw keyNeeded("invalid_token");
	}
	const signedIn = await bySession(request, door);
	if (signedIn) return signedIn;
	if (apiKey !== undefined || (await door.callers.isAdministrated())) throw keyNeeded();
	if (isThisMachine(request)) return officeCaller();
	throw forbidden(NO_KEY_SET);
}

async function bySession(request: FastifyRequest, { callers }: Door): Promise<Caller | undefined> {
	const secret = cookieOf(request, "session");
	const caller = secret === undefined ? undefined : await callers.bySession(secret);
	if (caller && secret !== undefined) request.formToken = formTokenOf(secret);
	return caller;
}

function assertMay(caller: Caller, access: RuleName, touches: readonly Touch[]): void {
	if (!mayUse(caller, access)) throw forbidden("Neither your role nor your key lets you do this.");
	if (touches.includes("whole") && !caller.reach.isWhole)
		throw forbidden("This concerns the whole programme, and yours is a part of it.");
}

function assertOwnSite(request: FastifyRequest): void {
	const refusal = otherSiteRefusal(request);
	if (refusal) throw refusal;
}

/** Whoever works for herself needn't say so: without a name it is she who did it. */
function nameCaller(body: unknown, field: string, { personCode, roles }: Caller): void {
	if (typeof body !== "object" || body === null || Array.isArray(body) || personCode === null) return;
	if (roles.includes("administrator") || roles.includes("health office")) return;
	(body as Record<string, unknown>)[field] ??= personCode;
}

/** @returns why a body isn't believed: it isn't what the gateway signed; nothing where it is, or where another way shows who sends */
function signatureRefusal(request: FastifyRequest, { channels }: Secrets): EdgeRefusal | undefined {
	const named = gatewayNamed(request, channels);
	if (!named) return undefined;
	const isBelieved = named.gateway && Buffer.isBuffer(request.body) && isSigned(named.gateway, request.headers, request.body);
	return isBelieved ? undefined : forbidden(NOT_THE_GATEWAY);
}

/** @returns what is set up of the gateway that the address names; nothing where the address names none */
function gatewayNamed(
	request: FastifyRequest,
	channels: Secrets["channels"],
): { gateway: InboundGateway | undefined } | undefined {
	const { gateway } = request.params as { gateway?: string };
	if (gateway === undefined) return undefined;
	const known = channels?.inbound ?? {};
	return { gateway: Object.hasOwn(known, gateway) ? known[gateway] : undefined };
}

const NOT_THE_GATEWAY = "No gateway of this name is set up, or this isn't how it shows itself.";
const NO_KEY_SET = "No key is set (JARWATCH_API_KEY), so this address answers this machine alone.";
const NO_SECRET_SET = "No secret is set (JARWATCH_INBOUND_SECRET), so this address answers this machine alone.";

function forbidden(message: string): EdgeRefusal {
	return new EdgeRefusal(403, "not-allowed", message);
}

/** Source of the challenge: RFC 6750 (2012), section 3 */
function keyNeeded(error?: "invalid_token"): EdgeRefusal {
	const challenge = `Bearer realm="jarwatch"${error ? `, error="${error}"` : ""}`;
	const how = "Sign in, or send a key as Authorization: Bearer <key>.";
	return new EdgeRefusal(401, "key-needed", how, { "www-authenticate": challenge });
}
