import type { FastifyRequest } from "fastify";

/**
 * Whether the peer is on the loopback, and asked for it by that name: a web page elsewhere that lets its own name point here is not.
 */
export function isThisMachine(request: FastifyRequest): boolean {
	return LOOPBACK.test(request.ip) && LOOPBACK_NAME.test(request.hostname);
}

const LOOPBACK = /^(127(\.\d{1,3}){3}|::1|::ffff:127(\.\d{1,3}){3})$/;
const LOOPBACK_NAME = /^(localhost|127(\.\d{1,3}){3}|\[::1\])(:\d+)?$/i;

export type CookieName = "session" | "device";

/** Over plain HTTP, which this machine alone is spoken to by, a browser keeps no cookie that says Secure. */
function fullName(request: FastifyRequest, name: CookieName): string {
	return isThisMachine(request) ? name : `__Host-${name}`;
}

/** @returns what a cookie of ours holds; none where there is none, or two of one name */
export function cookieOf(request: FastifyRequest, name: CookieName): string | undefined {
	const wanted = `${fullName(request, name)}=`;
	const found = (request.headers.cookie ?? "")
		.split(";")
		.map((part) => part.trim())
		.filter((part) => part.startsWith(wanted));
	const value = found[0]?.slice(wanted.length);
	return found.length === 1 && value ? value : undefined;
}

/**
 * @param endsInS seconds until the browser forgets it; 0: at once
 * @returns a `Set-Cookie` field. Source: RFC 6265bis, sections 4.1.2 and 4.1.3.2; OWASP ASVS 5.0.0 (2025), 3.3.1 to 3.3.4
 */
export function setCookie(request: FastifyRequest, name: CookieName, value: string, endsInS: number): string {
	const secure = isThisMachine(request) ? "" : "; Secure";
	return `${fullName(request, name)}=${value}; Path=/; Max-Age=${Math.max(0, Math.floor(endsInS))}; HttpOnly; SameSite=Lax${secure}`;
}
