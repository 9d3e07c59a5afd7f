import { type Html, html } from "./html.js";
import type { Words } from "./words.js";

/** A channel by what it is, and by its name in the settings. */
export function channelSaid(channel: string, words: Words): Html {
	return html`${channelName(channel, words)} <bdi class="code">${channel}</bdi>`;
}

/** What a channel is; one from outside has a name alone. */
export function channelName(channel: string, words: Words): string {
	return words("office.isChannel", { channel: channel.replaceAll("-", "") });
}
