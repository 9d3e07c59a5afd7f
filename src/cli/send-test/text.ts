import type { Delivery } from "../../messages/notifier.js";
import { segmentsOf } from "../../messages/segments.js";

/** @returns what is about to be sent: where to, and how it would travel as SMS */
export function beforeText(channel: string, to: string, text: string): string {
	const { encoding, units, segments } = segmentsOf(text);
	const unit = encoding === "GSM-7" ? "septets" : "code units";
	return [
		`channel   ${channel}`,
		`to        ${to}`,
		`text      ${text}`,
		`as SMS    ${encoding}, ${units} ${unit}, ${segments} ${segments === 1 ? "segment" : "segments"}`,
		"",
	].join("\n");
}

/** @returns what the channel answered */
export function afterText(delivery: Delivery, tookMs: number): string {
	const took = `after ${(tookMs / 1000).toFixed(1)} s`;
	if (delivery.kind === "accepted") {
		const ids = delivery.channelMessageIds?.length ? `\nids       ${delivery.channelMessageIds.join(" ")}` : "";
		return `answer    accepted ${took}: ${delivery.answer}${ids}\n`;
	}
	const wait = delivery.retryAfterMs === undefined ? "" : `, to be tried again after ${delivery.retryAfterMs / 1000} s`;
	const how = delivery.throttled
		? "refused for now, a slower pace is asked for"
		: `refused for ${delivery.forGood ? "good" : "now"}`;
	return `answer    ${how} ${took}: ${delivery.reason}${wait}\n`;
}
