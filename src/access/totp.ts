import { Secret, TOTP } from "otpauth";
import type { Transaction } from "../store/unit-of-work.js";

const STEP_MS = 30_000;
const SETTINGS = { issuer: "Jarwatch", algorithm: "SHA1", digits: 6, period: STEP_MS / 1000 } as const;

/** @returns a new secret of 160 bits in base 32, as RFC 4226 (2005), section 4, R6 recommends */
export function newTotpSecret(): string {
	return new Secret({ size: 20 }).base32;
}

/** @returns the address by which an authenticator app takes a secret in, as a text or a picture of it */
export function totpAddress(secret: string, login: string): string {
	return new TOTP({ ...SETTINGS, label: login, secret: Secret.fromBase32(secret) }).toString();
}

/**
 * @returns the step to which a code belongs: the one of now, or the one before it, because a code takes a while to be typed;
 * none where it belongs to neither
 * Source: RFC 6238 (2011), section 5.2
 */
export function totpStepOf(secret: string, code: string, nowMs: number): number | undefined {
	if (!/^\d{6}$/.test(code)) return undefined;
	const totp = new TOTP({ ...SETTINGS, secret: Secret.fromBase32(secret) });
	const before = totp.validate({ token: code, timestamp: nowMs, window: 1 });
	return before === null || before > 0 ? undefined : Math.floor(nowMs / STEP_MS) + before;
}

/** Takes a step's code once and for all. @returns false where it, or a later one, was taken before */
export async function takeStep(tx: Transaction, accountId: string, step: number): Promise<boolean> {
	const taken = await tx.affected(
		"UPDATE account SET totp_last_step = $2 WHERE id = $1 AND (totp_last_step IS NULL OR totp_last_step < $2)",
		[accountId, step],
	);
	return taken > 0;
}
