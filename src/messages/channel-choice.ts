/** Which channel carries a message, and which is next if it can't. */
export interface ChannelChoice {
	readonly channel: string;
	/** None: this is the person's last. */
	readonly next: string | undefined;
}

/**
 * Chooses the channel of a message.
 * @param preferred the person's channels in order; empty: whatever the programme has first
 * @param configured the notifiers by name, in the order of the settings
 * @param begun the channel that was tried last and failed, or was moved on to; none for a message that hasn't been tried
 * @returns none where the person has channels, but not one of them is configured: another one's "sent" would be no delivery to her
 */
export function channelChoice(
	preferred: readonly string[],
	configured: ReadonlyMap<string, unknown>,
	begun: string | null,
): ChannelChoice | undefined {
	const own = preferred.filter((name) => configured.has(name));
	if (preferred.length === 0) {
		const [first] = configured.keys();
		return first === undefined ? undefined : { channel: first, next: undefined };
	}
	const at = begun === null ? 0 : Math.max(0, own.indexOf(begun));
	const channel = own[at];
	return channel === undefined ? undefined : { channel, next: own[at + 1] };
}
