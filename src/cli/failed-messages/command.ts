import type { FailedMessage, Failures } from "../../messages/failures.js";
import type { AddCommand, Outlets } from "../program.js";

/** Lists what was given up on every channel, and lets it go again. */
export const addFailedMessages: AddCommand = (program, outlets) => {
	program
		.command("failed-messages")
		.description("List the messages that failed for good, a thousand at most, and send them again where that is asked for.")
		.option("--replay <id...>", "send these again, from the person's first channel on")
		.option("--replay-all", "send all of them again", false)
		.action((options: { replay?: string[]; replayAll: boolean }) => listed(options, outlets));
};

async function listed({ replay = [], replayAll }: { replay?: string[]; replayAll: boolean }, { out }: Outlets): Promise<void> {
	await withFailures(async (failures) => {
		for (const id of replay) await failures.replay(id);
		const again = replay.length + (replayAll ? await failures.replayAll() : 0);
		out(failedText(await failures.list(), again));
	});
}

export function failedText(failed: readonly FailedMessage[], again: number): string {
	const lines = failed.map(
		({ id, endedAtMs, recipientCode, text, channel, answer }) =>
			`${id}  ${new Date(endedAtMs).toISOString()}  ${recipientCode}  ${text}  ${channel ?? "no channel"}: ${answer ?? "-"}\n`,
	);
	const gone = again > 0 ? `${again} go again.\n` : "";
	return `${gone}${lines.join("")}${lines.length === 0 ? "No message has failed for good.\n" : ""}`;
}

async function withFailures(work: (failures: Failures) => Promise<void>): Promise<void> {
	const { newLog } = await import("../../log/log.js");
	const { preparedService } = await import("../../service.js");
	const { settingsFrom } = await import("../../settings/settings.js");
	const { Failures } = await import("../../messages/failures.js");
	const { from } = await import("../../ledger/origin.js");
	const service = await preparedService(settingsFrom(process.env), { api: false, log: newLog("warn") });
	try {
		await from("command failed-messages", () => work(service.app.get(Failures)));
	} finally {
		await service.stop();
	}
}
