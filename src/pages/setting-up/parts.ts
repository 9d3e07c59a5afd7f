import type { Accounts } from "../../access/accounts.js";
import type { Callers } from "../../access/callers.js";
import type { SignIn } from "../../access/sign-in.js";
import type { ChannelCheck } from "../../messages/channel-check.js";
import type { Importer } from "../../programme/import/importer.js";
import type { Calendars } from "../../stock/places.js";
import type { Store } from "../../store/store.js";
import type { Clock } from "../../time/clock.js";

/** What setting up is made of. */
export interface SettingUpParts {
	readonly store: Store;
	readonly clock: Clock;
	readonly calendars: Calendars;
	readonly callers: Callers;
	readonly accounts: Accounts;
	readonly signIn: SignIn;
	readonly importer: Importer;
	/** Names of the kinds of file, in the order in which they are taken in. */
	readonly kinds: readonly string[];
	readonly channels: ChannelCheck;
	/** Stands in the log of a service that nobody administers yet: whoever reads that may begin from another machine. */
	readonly setUpCode: string;
}
