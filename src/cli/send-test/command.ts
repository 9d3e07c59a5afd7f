import { z } from "zod";
import { InputError } from "../../errors/errors.js";
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
	const { ChannelCheck } = await import("../../messages/channel-check.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		const check = service.app.get(ChannelCheck);
		await check.prepared(channel, to);
		out(beforeText(channel, to, text));
		const { delivery, tookMs } = await check.send(channel, to, text);
		out(afterText(delivery, tookMs));
		if (delivery.kind === "refused") throw new InputError("notifier-refused", "The test message was not taken.");
	} finally {
		await service.stop();
	}
}
