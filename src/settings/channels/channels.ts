import { z } from "zod";
import type { Problem } from "../../errors/errors.js";
import { email } from "./email.js";
import { inbound } from "./inbound.js";
import { smpp } from "./smpp.js";
import { smsGateway } from "./sms-gateway.js";
import { webPush } from "./web-push.js";

/** The channels that need more than a line to set up, and the gateways that post to this service. */
export const channels = z.strictObject({
	"sms-gateway": smsGateway.optional(),
	smpp: smpp.optional(),
	email: email.optional(),
	"web-push": webPush.optional(),
	inbound: inbound.default({}),
});

export type ChannelSettings = z.output<typeof channels>;

export const NO_CHANNELS: ChannelSettings = { inbound: {} };

/** Every name under which a secret may be kept out of the file. */
const SECRET = /^\$(JARWATCH_SECRET_[A-Z0-9_]+)$/;

/**
 * Reads the settings of channels from JSON. A value that is `$JARWATCH_SECRET_...` as a whole is taken from the environment,
 * so that the file itself may be shown.
 * @returns the settings, or every problem, each with its JSON Pointer and without a value
 */
export function channelSettingsFrom(
	json: string,
	environment: Readonly<Record<string, string | undefined>>,
): { readonly settings: ChannelSettings } | { readonly problems: readonly Problem[] } {
	let given: unknown;
	try {
		given = JSON.parse(json);
	} catch {
		return { problems: [{ at: "", message: "isn't JSON" }] };
	}
	const problems: Problem[] = [];
	const resolved = withSecrets(given, "", environment, problems);
	const parsed = channels.safeParse(resolved);
	if (parsed.success && problems.length === 0) return { settings: parsed.data };
	const issues = parsed.error?.issues ?? [];
	const unset = new Set(problems.map(({ at }) => at));
	for (const { path, message } of issues) {
		const at = path.map((part) => `/${String(part).replaceAll("~", "~0").replaceAll("/", "~1")}`).join("");
		if (!unset.has(at)) problems.push({ at, message });
	}
	return { problems };
}

function withSecrets(
	value: unknown,
	at: string,
	environment: Readonly<Record<string, string | undefined>>,
	problems: Problem[],
): unknown {
	if (typeof value === "string") {
		const name = SECRET.exec(value)?.[1];
		if (name === undefined) return value;
		if (!environment[name]) problems.push({ at, message: `names ${name}, which isn't set` });
		return environment[name] ?? value;
	}
	if (Array.isArray(value)) return value.map((item, i) => withSecrets(item, `${at}/${i}`, environment, problems));
	if (typeof value !== "object" || value === null) return value;
	return Object.fromEntries(
		Object.entries(value).map(([key, item]) => [key, withSecrets(item, `${at}/${key}`, environment, problems)]),
	);
}
