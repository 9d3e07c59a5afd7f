import type { Delivery } from "../notifier.js";
import { retryAfterMs } from "../retry.js";

export type Refused = Extract<Delivery, { kind: "refused" }>;

/** Client errors that may pass: time-out, too early, too many requests. Every other one says that this request will never do. */
const MAY_PASS = new Set([408, 425, 429]);
const LONGEST_ANSWER_BYTES = 65_536;

/** @returns whether an HTTP status says that the same request will never be taken; redirects and server errors don't */
export function saysNever(status: number): boolean {
	return status >= 400 && status < 500 && !MAY_PASS.has(status);
}

/**
 * What a peer that speaks by its status alone has refused.
 * @param nowMs epoch milliseconds, for a Retry-After that names an instant
 */
export function refusedByStatus({ status, headers }: Pick<Response, "status" | "headers">, nowMs: number): Refused {
	const wait = retryAfterMs(headers.get("retry-after"), nowMs);
	return {
		kind: "refused",
		reason: `HTTP ${status}`,
		forGood: saysNever(status),
		...(wait === undefined ? {} : { retryAfterMs: wait }),
		...(status === 429 ? { throttled: true } : {}),
	};
}

/** @returns the first 64 KiB of an answer: a receiver that never stops answering mustn't fill the memory */
export async function firstPartOf(response: Response): Promise<string> {
	const chunks: Uint8Array[] = [];
	let size = 0;
	if (response.body)
		for await (const chunk of response.body) {
			chunks.push(chunk);
			size += chunk.length;
			if (size >= LONGEST_ANSWER_BYTES) break;
		}
	return Buffer.concat(chunks).subarray(0, LONGEST_ANSWER_BYTES).toString("utf8");
}
