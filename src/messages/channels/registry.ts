import { join } from "node:path";
import type { Writable } from "node:stream";
import { InputError } from "../../errors/errors.js";
import type { Log } from "../../log/log.js";
import type { Settings } from "../../settings/settings.js";
import type { Clock } from "../../time/clock.js";
import { type Randomness, SystemRandomness } from "../../time/randomness.js";
import { ClosedInbox, type Inbox } from "../inbox.js";
import type { Notifier } from "../notifier.js";
import { NoSubscriptions, type PushSubscriptions } from "../push-subscriptions.js";
import { ConsoleNotifier } from "./console.js";
import { FileNotifier } from "./file.js";
import { type Load, notifierFromOutside } from "./outside.js";
import { Outward } from "./outward.js";
import { SmsGatewayNotifier } from "./sms-gateway.js";
import { WebhookNotifier } from "./webhook.js";

/** What a notifier is made of. */
export interface NotifierContext {
	readonly settings: Settings;
	/** What a notifier from outside is told; the program doesn't know what it needs. */
	readonly ownSettings?: Readonly<Record<string, string>>;
	readonly clock: Clock;
	readonly log: Log;
	/** Where the console notifier writes. */
	readonly out: Writable;
	readonly randomness?: Randomness;
	/** Where channels hand in what comes back; left out: nothing is taken. */
	readonly inbox?: Inbox;
	/** Browsers that show messages; left out: nobody has one. */
	readonly subscriptions?: PushSubscriptions;
	/** How a package or file is loaded; left out: `import()`. */
	readonly load?: Load;
}

/** The notifiers that come with the program. A new one is a file and a line. */
const BUILT_IN: Readonly<Record<string, (context: NotifierContext) => Notifier | Promise<Notifier>>> = {
	console: ({ out }) => new ConsoleNotifier(out),
	file: ({ settings }) => new FileNotifier(settings.fileNotifierPath ?? join(settings.dataFolder, "messages.jsonl")),
	webhook: ({ settings, clock }) =>
		new WebhookNotifier(
			{ url: required(settings.webhookUrl, "URL"), secret: required(settings.webhookSecret, "SECRET") },
			clock,
			outward(settings),
		),
	"sms-gateway": ({ settings, clock }) => new SmsGatewayNotifier(setUp(settings, "sms-gateway"), clock, outward(settings)),
	// What only some use, and takes its time to load, is loaded where it is named.
	smpp: async ({ settings, clock, log, randomness = new SystemRandomness(), inbox = new ClosedInbox() }) => {
		const { SmppNotifier } = await import("./smpp/notifier.js");
		return new SmppNotifier({ settings: setUp(settings, "smpp"), clock, log, randomness, inbox });
	},
	email: async ({ settings }) => {
		const { EmailNotifier } = await import("./email.js");
		return new EmailNotifier(setUp(settings, "email"));
	},
	"web-push": async ({ settings, clock, subscriptions = new NoSubscriptions() }) => {
		const { WebPushNotifier } = await import("./web-push.js");
		return new WebPushNotifier(setUp(settings, "web-push"), subscriptions, clock, outward(settings));
	},
};

/** Notifiers by name, in the order in which the settings name them: the first serves everybody who prefers none. */
export type Notifiers = ReadonlyMap<string, Notifier>;

/**
 * Makes the notifiers that the settings name: built-in ones by name, others as an npm package or a file (`./path.js`)
 * whose default export is a function of `{ settings, log }` that returns `{ name, send, close? }`.
 * @throws InputError `notifier-unknown` for what can't be found, `notifier-refused` for what isn't a notifier or bears a name that is taken
 */
export async function notifiersFrom(context: NotifierContext): Promise<Notifiers> {
	const notifiers = new Map<string, Notifier>();
	for (const named of context.settings.notifiers) {
		const make = Object.hasOwn(BUILT_IN, named) ? BUILT_IN[named] : undefined;
		const { ownSettings, log, load } = context;
		const notifier = make ? await make(context) : await notifierFromOutside(named, { settings: { ...ownSettings }, log }, load);
		if (notifiers.has(notifier.name) || (!make && Object.hasOwn(BUILT_IN, notifier.name)))
			throw new InputError("notifier-refused", `Two notifiers are named "${notifier.name}"; each needs a name of its own.`);
		notifiers.set(notifier.name, notifier);
	}
	return notifiers;
}

/** Each channel has connections of its own. */
function outward({ privateAddresses }: Settings): Outward {
	return new Outward(privateAddresses);
}

function required(value: string | undefined, what: "URL" | "SECRET"): string {
	if (value) return value;
	throw new InputError("notifier-refused", `The webhook notifier needs JARWATCH_WEBHOOK_${what}.`);
}

function setUp<Name extends "sms-gateway" | "smpp" | "email" | "web-push">(
	{ channels }: Settings,
	name: Name,
): NonNullable<Settings["channels"][Name]> {
	const own = channels[name];
	if (own) return own;
	throw new InputError("notifier-refused", `The notifier "${name}" needs to be set up in JARWATCH_CHANNELS.`);
}
