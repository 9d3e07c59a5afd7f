import { z } from "zod";

const base64url = (bytes: number, what: string) =>
	z
		.string()
		.refine(
			(text) => /^[A-Za-z0-9_-]+$/.test(text) && Buffer.from(text, "base64url").length === bytes,
			`must be ${what}: ${bytes} bytes in base64url`,
		);

/** Web push: who sends (VAPID, RFC 8292) and to which push services. */
export const webPush = z.strictObject({
	/** mailto: or https: address at which a push service finds whoever runs this. */
	contact: z.string().regex(/^(mailto:\S+@\S+|https:\/\/\S+)$/, "must be a mailto: or https: address"),
	publicKey: base64url(65, "a point of the curve P-256"),
	privateKey: base64url(32, "a private key of the curve P-256"),
	/** Push services that a subscription may name, with everything below them: no other address is ever called. */
	hosts: z
		.array(
			z
				.string()
				.regex(/^[a-z0-9.-]+(:\d{1,5})?$/, "must be the name of a host in small letters, with its port where it isn't 443"),
		)
		.min(1),
	/** How long a push service keeps a message for a device that is off. */
	keepHours: z.number().min(0).max(672).default(24),
});

export type WebPushSettings = z.output<typeof webPush>;

/**
 * Whether an address may be called: https, at one of the hosts or below it, without a user name. On this machine http will do.
 * @param endpoint as a browser gave it, which is to say anybody
 */
export function isPushAddress(endpoint: string, hosts: readonly string[]): boolean {
	if (!URL.canParse(endpoint)) return false;
	const { protocol, host, hostname, username, password } = new URL(endpoint);
	const isSafe = protocol === "https:" || (protocol === "http:" && (hostname === "127.0.0.1" || hostname === "localhost"));
	return isSafe && username === "" && password === "" && hosts.some((known) => host === known || host.endsWith(`.${known}`));
}
