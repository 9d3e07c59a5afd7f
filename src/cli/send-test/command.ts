import { z } from "zod";
import { InputError } from "../../errors/errors.js";
import type { Outgoing } from "../../messages/notifier.js";
import { textAs } from "../option-values.js";
import { type OptionTable, readOptions, withOptions } from "../options.js";
import type { AddCommand, Outlets } from "../program.js";
import { afterText, beforeText } from "./text.js";

const options = {
	channel: {
		placeholder: "name",
		about: "a channel that JARWATCH_NOTIFIERS names",
		schema: textAs("the name of a channel", (text) => text || undefined),
	},
	to: {
		placeholder: "address",
		about: "a phone number with its country, an e-mail address, or the code of a person on file",
		schema: textAs("a phone number, an e-mail address or a person's code", (text) => text || undefined),
	},
	text: {
		placeholder: "text",
		about: "what is sent",
		schema: z.string().min(1, "must not be empty").max(1000, "must be at most 1000 characters"),
		fallback: "Jarwatch: this is a test. Nothing needs to be done.",
	},
} as const satisfies OptionTable;

/** Sends one message, to see whether a channel is set up rightly. */
export const addSendTest: AddCommand = (program, outlets) => {
	const command = program
		.command("send-test")
		.description("Send one test message by a channel: how it would travel as SMS before, the channel's answer after.");
	withOptions(command, options).action(async () => {
		const { values } = readOptions(options, command);
		await sentTest(values.channel, values.to, values.text, outlets);
	});
};

async function sentTest(channel: string, to: string, text: string, { out }: Outlets): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { NOTIFIERS } = await import("../../app.module.js");
	const { Store } = await import("../../store/store.js");
	const { Clock } = await import("../../time/clock.js");
	const { Ids } = await import("../../time/ids.js");
	const { Tries } = await import("../../messages/tries.js");
	const settings = settingsFrom(process.env);
	const service = await preparedService(settings, { api: false, log: newLog("warn") });
	try {
		const notifiers = service.app.get<import("../../messages/channels/registry.js").Notifiers>(NOTIFIERS);
		const notifier = notifiers.get(channel);
		if (!notifier)
			throw new InputError(
				"notifier-unknown",
				`JARWATCH_NOTIFIERS doesn't name the channel "${channel}"; it names ${[...notifiers.keys()].join(", ")}.`,
			);
		const recipient = await recipientOf(to, service.app.get(Store));
		out(beforeText(channel, to, text));
		const clock = service.app.get(Clock);
		const attemptedAtMs = clock.nowMs();
		const messageId = service.app.get(Ids).next();
		const message: Outgoing = {
			idempotencyKey: `test.${messageId}`,
			messageId,
			taskId: null,
			text,
			language: "en",
			urgent: false,
			recipient,
			attemptedAtMs,
		};
		const delivery = await new Tries(settings.sendTimeoutMs).of(notifier, message);
		out(afterText(delivery, clock.nowMs() - attemptedAtMs));
		if (delivery.kind === "refused") throw new InputError("notifier-refused", "The test message was not taken.");
	} finally {
		await service.stop();
	}
}

/** @throws InputError where it is neither a number, nor an e-mail address, nor the code of somebody on file */
async function recipientOf(to: string, store: import("../../store/store.js").Store): Promise<Outgoing["recipient"]> {
	const { phoneE164Of } = await import("../../programme/import/phone.js");
	const nobody = { personId: "test", name: "Test", phoneE164: null, email: null };
	const phoneE164 = phoneE164Of(to);
	if (phoneE164) return { ...nobody, phoneE164 };
	if (z.email().safeParse(to).success) return { ...nobody, email: to };
	const [person] = await store.query<Outgoing["recipient"]>(
		"SELECT id AS person_id, name, phone_e164, email FROM person WHERE code = $1",
		[to],
	);
	if (person) return person;
	throw new InputError(
		"unknown-subject",
		"--to must be a phone number with its country, such as +447700900123, an e-mail address, or the code of a person on file.",
	);
}
