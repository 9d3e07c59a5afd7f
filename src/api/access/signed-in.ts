import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import { formTokenOf } from "../../access/sessions.js";
import type { Begun, SignedIn } from "../../access/sign-in.js";
import type { Clock } from "../../time/clock.js";
import { setCookie } from "../edge/cookies.js";
import { utc, utcOf } from "../edge/fields.js";
import { EdgeRefusal } from "../edge/problem.js";

/** A browser may know a device for so long; browsers allow no more. Source: RFC 6265bis, section 5.5 */
const DEVICE_S = 400 * 86_400;

export const begunSchema = z
	.strictObject({
		endsAt: utc.meta({ description: "At the latest; sooner where it isn't used" }),
		formToken: z.string().meta({ description: "Forms of this session send it along as token, or as X-Form-Token" }),
	})
	.meta({ id: "BegunSession" });

/** Puts what has begun into the browser's cookies. @throws EdgeRefusal 401 or 429 where nothing has */
export function begunOr(
	signedIn: SignedIn,
	request: FastifyRequest,
	reply: FastifyReply,
	clock: Clock,
): z.output<typeof begunSchema> {
	if (signedIn.state === "wait") throw tooMany(signedIn.waitMs);
	if (signedIn.state === "code needed")
		throw new EdgeRefusal(401, "code-needed", "Send the code that the app shows, or one on paper, as `code` too.");
	if (signedIn.state !== "signed in")
		throw new EdgeRefusal(401, "sign-in-refused", "Name, password or code isn't right, or its time is over.");
	keepCookies(signedIn, request, reply, clock);
	return { endsAt: utcOf(signedIn.endsAtMs), formToken: formTokenOf(signedIn.secret) };
}

export function keepCookies(begun: Begun, request: FastifyRequest, reply: FastifyReply, clock: Clock): void {
	const lastsS = (begun.endsAtMs - clock.nowMs()) / 1000;
	const cookies = [setCookie(request, "session", begun.secret, lastsS)];
	if (begun.deviceSecret) cookies.push(setCookie(request, "device", begun.deviceSecret, DEVICE_S));
	void reply.header("set-cookie", cookies);
}

/** The device is known to the account from now on. */
export function keepDevice(secret: string, request: FastifyRequest, reply: FastifyReply): void {
	void reply.header("set-cookie", setCookie(request, "device", secret, DEVICE_S));
}

export function forgetSession(request: FastifyRequest, reply: FastifyReply): void {
	void reply.header("set-cookie", setCookie(request, "session", "", 0));
}

/** Source: RFC 6585 (2012), section 4 */
export function tooMany(waitMs: number): EdgeRefusal {
	const seconds = Math.ceil(waitMs / 1000);
	const minutes = Math.ceil(waitMs / 60_000);
	return new EdgeRefusal(429, "too-many-tries", `Too many tries. Try again in ${minutes} min.`, {
		"retry-after": String(seconds),
	});
}
