import type { Writable } from "node:stream";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";

/** Writes messages where somebody watches, one readable line each; the number is masked, because screens are looked at and logs are kept. */
export class ConsoleNotifier extends Notifier {
	readonly name = "console";

	constructor(private readonly out: Writable) {
		super();
	}

	async send(message: Outgoing): Promise<Delivery> {
		const { name, phoneE164 } = message.recipient;
		const at = new Date(message.attemptedAtMs).toISOString().slice(0, 16).replace("T", " ");
		const to = phoneE164 ? `${name} (${maskedNumber(phoneE164)})` : name;
		const line = onOneLine(`${at} UTC  to ${to}${message.urgent ? ", urgent" : ""}: ${message.text}`);
		await new Promise<void>((resolve, reject) => {
			this.out.write(`${line}\n`, (error) => (error ? reject(error) : resolve()));
		});
		return { kind: "accepted", answer: "written" };
	}
}

/** @returns the country's beginning and the last two digits: enough to tell two people apart, too little to call */
export function maskedNumber(phoneE164: string): string {
	return phoneE164.length < 9 ? "..." : `${phoneE164.slice(0, 4)}...${phoneE164.slice(-2)}`;
}

/** A name or a text could hold what moves a terminal's cursor. */
function onOneLine(text: string): string {
	return text.replace(/[\p{Cc}\u2028\u2029]+/gu, " ");
}
