import { FAILED } from "../../../messages/delivery.js";
import type { Indicator } from "../indicator.js";
import { messages } from "../subjects/messages.js";

export const remindersFailed: Indicator = {
	code: "reminders-failed",
	name: "Reminders failed",
	wanted: "less",
	subjects: messages,
	words: () =>
		"Messages that were given up on every channel of their person; of those made in the period that were given up or taken by a channel.",
	missing: "messages that are still waiting, held or on their way",
	source: { kind: "own", because: "failed is what it is in every list, count and metric of the program" },
	met: () => `CASE state WHEN '${FAILED}' THEN 1 WHEN 'sent' THEN 0 END`,
};
