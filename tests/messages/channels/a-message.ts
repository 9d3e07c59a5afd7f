import type { Outgoing } from "../../../src/messages/notifier.js";

/** A message to an invented volunteer; Ofcom keeps 07700 900000 to 900999 for fiction. */
export function outgoing(
	over: Partial<Omit<Outgoing, "recipient">> & { recipient?: Partial<Outgoing["recipient"]> } = {},
): Outgoing {
	const { recipient, ...rest } = over;
	return {
		idempotencyKey: "task1.0.vol",
		messageId: "m1",
		taskId: "task1",
		text: "Test jar B1 today.",
		language: "en",
		urgent: false,
		attemptedAtMs: 1_614_265_330_000,
		...rest,
		recipient: {
			personId: "vol",
			name: "Invented Volunteer",
			phoneE164: "+447700900002",
			email: "vol@example.org",
			...recipient,
		},
	};
}

/** Never ends a try. */
export const forever = new AbortController().signal;
