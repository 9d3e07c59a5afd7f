import type { FastifyRequest } from "fastify";
import { DefectError } from "../../errors/errors.js";
import { isProven, isSame, isSigned } from "../../messages/inbound/proof.js";
import type { InboundGateway } from "../../settings/channels/inbound.js";
import type { Settings } from "../../settings/settings.js";
import { EdgeRefusal } from "./problem.js";

export type Secrets = Pick<Settings, "apiKey" | "inboundSecret"> & Partial<Pick<Settings, "channels">>;
type Rule = (request: FastifyRequest, secrets: Secrets) => EdgeRefusal | undefined;

/** Who may use a route: the one table. Each route names a row of it, and the service doesn't start with one that doesn't. */
const ACCESS = {
	/** Anybody: says whether the service lives, and how it is spoken to. */
	open: () => undefined,
	/** Whoever has the address, in which a secret stands: a phone's calendar can send nothing else. The service behind it checks it. */
	calendar: () => undefined,
	/** Whoever has the key; without a key, this machine alone. */
	office: (request, { apiKey }) => {
		if (apiKey === undefined) return isThisMachine(request) ? undefined : forbidden(NO_KEY_SET);
		const given = /^Bearer +([A-Za-z0-9._~+/=-]+) *$/i.exec(request.headers.authorization ?? "")?.[1];
		if (given !== undefined && isSame(given, apiKey)) return undefined;
		const challenge = given === undefined ? 'Bearer realm="jarwatch"' : 'Bearer realm="jarwatch", error="invalid_token"';
		return new EdgeRefusal(401, "key-needed", "Send the key as Authorization: Bearer <key>.", { "www-authenticate": challenge });
	},
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
} as const satisfies Record<string, Rule>;

export type Access = keyof typeof ACCESS;

declare module "fastify" {
	interface FastifyContextConfig {
		access?: Access;
	}
}

/** @returns why the request may not use its route; nothing where it may */
export function accessRefusal(request: FastifyRequest, secrets: Secrets): EdgeRefusal | undefined {
	if (request.is404) return undefined;
	const { access } = request.routeOptions.config;
	// The router has refused such a route at the start already; should it ever get here, nobody may use it.
	if (!access) throw new DefectError("a route doesn't say who may use it");
	return ACCESS[access](request, secrets);
}

/**
 * @returns why a body isn't believed: it isn't what the gateway signed; nothing where it is, or where another way shows who sends
 */
export function bodyRefusal(request: FastifyRequest, { channels }: Secrets): EdgeRefusal | undefined {
	if (request.is404 || request.routeOptions.config.access !== "gateway") return undefined;
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

/** The peer is on the loopback, and asked for it by that name: a web page elsewhere that lets its own name point here is not. */
function isThisMachine(request: FastifyRequest): boolean {
	return LOOPBACK.test(request.ip) && LOOPBACK_NAME.test(request.hostname);
}

const LOOPBACK = /^(127(\.\d{1,3}){3}|::1|::ffff:127(\.\d{1,3}){3})$/;
const LOOPBACK_NAME = /^(localhost|127(\.\d{1,3}){3}|\[::1\])(:\d+)?$/i;
