import { readFileSync } from "node:fs";
import type { BlockList } from "node:net";
import { z } from "zod";
import { InputError, type Problem } from "../errors/errors.js";
import { type ChannelSettings, channelSettingsFrom, NO_CHANNELS } from "./channels/channels.js";
import { DATA_KEY_RIGHT, isDataKey } from "./data-key.js";
import { type MapTiles, TILES_RIGHT, tileOrigin } from "./map-tiles.js";
import { type PrivateAddresses, privateAddressesFrom } from "./private-addresses.js";
import { proxiesFrom } from "./proxies.js";

const ROLES = ["api", "scheduler", "worker"] as const;
export type Role = (typeof ROLES)[number];

const list = (text: string) =>
	text
		.split(",")
		.map((part) => part.trim())
		.filter((part) => part !== "");

const seconds = (fallback: number, smallest = 1, largest = 86_400) =>
	z.coerce.number().min(smallest).max(largest).default(fallback);
const whole = (fallback: number, smallest: number, largest: number) =>
	z.coerce.number().int().min(smallest).max(largest).default(fallback);
const isMailAddress = (text: string) => z.email().max(254).safeParse(text).success;
const secret = z.string().min(24, "is too short: use at least 24 characters");

/** Every setting, each read from one environment variable of the same name. README lists them with their meaning. */
const fields = {
	JARWATCH_DATA_FOLDER: z.string().min(1).default("data"),
	JARWATCH_DATABASE_URL: z
		.string()
		.regex(/^postgres(ql)?:\/\//, "must begin with postgres://")
		.optional(),
	JARWATCH_DATABASE_SECONDS: seconds(10, 0.1, 600),
	JARWATCH_START_SECONDS: seconds(300, 0),
	JARWATCH_DATA_KEY: z
		.string()
		.transform(list)
		.refine((keys) => keys.length > 0 && keys.every(isDataKey), DATA_KEY_RIGHT)
		.optional(),
	JARWATCH_REDIS_URL: z
		.string()
		.regex(/^rediss?:\/\//, "must begin with redis:// or rediss://")
		.optional(),
	JARWATCH_QUEUE: z.enum(["in-process", "bullmq"]).default("in-process"),
	JARWATCH_QUEUE_NAME: z
		.string()
		.regex(/^[a-z][a-z0-9-]{0,40}$/, "is lower-case letters, digits and dashes")
		.default("jarwatch"),
	JARWATCH_ROLES: z
		.string()
		.default(ROLES.join(","))
		.transform(list)
		.pipe(z.array(z.enum(ROLES)).min(1)),
	JARWATCH_HOST: z.string().min(1).default("127.0.0.1"),
	JARWATCH_PORT: whole(8080, 0, 65_535),
	JARWATCH_API_KEY: secret.optional(),
	JARWATCH_PROXIES: z
		.string()
		.transform(proxiesFrom)
		.refine((list) => list !== undefined, "is a list of addresses and ranges such as 10.1.0.4,10.2.0.0/16")
		.optional(),
	JARWATCH_REQUESTS_PER_MINUTE: whole(600, 10, 1_000_000),
	JARWATCH_PUBLIC_URL: z.url({ protocol: /^https?$/, error: "must be an http or https address" }).optional(),
	JARWATCH_MAP_TILES: z
		.string()
		.refine((template) => tileOrigin(template) !== undefined, TILES_RIGHT)
		.optional(),
	JARWATCH_MAP_ATTRIBUTION: z.string().trim().min(3, "says who made the map, in 3 to 200 characters").max(200).optional(),
	JARWATCH_INBOUND_SECRET: secret.optional(),
	JARWATCH_NOTIFIERS: z
		.string()
		.default("console")
		.transform(list)
		.pipe(z.array(z.string()).min(1, "names at least one notifier")),
	JARWATCH_FILE_NOTIFIER_PATH: z.string().min(1).optional(),
	JARWATCH_WEBHOOK_URL: z.url({ protocol: /^https?$/, error: "must be an http or https address" }).optional(),
	JARWATCH_WEBHOOK_SECRET: z
		.string()
		.regex(/^whsec_[A-Za-z0-9+/]{32,88}={0,2}$/, "is whsec_ and the base64 of 24 to 64 bytes, as Standard Webhooks has it")
		.optional(),
	JARWATCH_CHANNELS: z.string().optional(),
	JARWATCH_PRIVATE_ADDRESSES: z
		.string()
		.default("refused")
		.transform(privateAddressesFrom)
		.refine((rule) => rule !== undefined, "is allowed, refused, or a list of hosts, addresses and ranges such as 10.1.0.0/16"),
	JARWATCH_IDEMPOTENCY_HOURS: z.coerce.number().min(0.1).max(720).default(24),
	JARWATCH_SWEEP_SECONDS: seconds(5, 0.05),
	JARWATCH_DISPATCH_SECONDS: seconds(1, 0.02),
	JARWATCH_CHROMIUM: z.string().min(1).optional(),
	JARWATCH_SEAL_SECONDS: seconds(2, 0.05, 3600),
	JARWATCH_HEAD_TO: z
		.string()
		.default("")
		.transform(list)
		.refine((to) => to.every(isMailAddress), "is a list of e-mail addresses such as office@example.org,archive@example.org")
		.transform((to) => [...new Set(to)]),
	JARWATCH_HEAD_EVERY_DAYS: whole(7, 1, 366),
	JARWATCH_LEASE_SECONDS: seconds(60, 1, 3600),
	JARWATCH_SEND_TIMEOUT_SECONDS: seconds(15, 0.1, 300),
	JARWATCH_SEND_TRIES: whole(7, 1, 50),
	JARWATCH_SEND_CONCURRENCY: whole(8, 1, 256),
	JARWATCH_SEND_RATES: z
		.string()
		.default("")
		.transform(ratesFrom)
		.refine(
			(rates) => rates !== undefined,
			"is a list such as sms-gateway=10,email=2: messages a second by channel, 0.01 to 10000",
		),
	JARWATCH_CIRCUIT_FAILURES: whole(5, 1, 1000),
	JARWATCH_STOP_SECONDS: seconds(25, 1, 300),
	JARWATCH_LOG_LEVEL: z.enum(["fatal", "error", "warn", "info", "debug", "trace", "silent"]).default("info"),
} as const;

/** @returns messages a second by channel; undefined where the list can't be read or names a channel twice */
function ratesFrom(text: string): Record<string, number> | undefined {
	const rates: Record<string, number> = {};
	for (const part of list(text)) {
		const [, channel, rate] = /^([a-z][a-z0-9-]{0,40})=(\d{1,5}(?:\.\d{1,3})?)$/.exec(part) ?? [];
		if (!channel || Object.hasOwn(rates, channel) || Number(rate) < 0.01 || Number(rate) > 10_000) return undefined;
		rates[channel] = Number(rate);
	}
	return rates;
}

/** For tests, for notifiers from other packages, which know themselves what they need, and for secrets that the settings of channels name. */
const OTHERS = /^JARWATCH_(TEST|NOTIFIER|SECRET)_/;

type Name = keyof typeof fields;
type Values = { [N in Name]: z.output<(typeof fields)[N]> };

/** What one setting asks of another; looked at even where a third is broken, so that all problems come at once. */
function disagreements(s: Partial<Values>): Problem[] {
	const problems: Problem[] = [];
	const refuse = (at: Name, message: string) => problems.push({ at, message });
	if (s.JARWATCH_DATABASE_URL && !s.JARWATCH_DATA_KEY)
		refuse("JARWATCH_DATA_KEY", "is needed when JARWATCH_DATABASE_URL is set: names and numbers rest sealed under it");
	if (s.JARWATCH_QUEUE === "bullmq" && !s.JARWATCH_REDIS_URL)
		refuse("JARWATCH_REDIS_URL", "is needed when JARWATCH_QUEUE is bullmq");
	if (s.JARWATCH_HOST && !isLoopback(s.JARWATCH_HOST) && s.JARWATCH_ROLES?.includes("api") && !s.JARWATCH_API_KEY)
		refuse("JARWATCH_API_KEY", "is needed when JARWATCH_HOST can be reached from other machines");
	if (s.JARWATCH_MAP_TILES && !s.JARWATCH_MAP_ATTRIBUTION)
		refuse(
			"JARWATCH_MAP_ATTRIBUTION",
			"is needed when JARWATCH_MAP_TILES is set: it says beneath each map who made it, as licences ask",
		);
	if (s.JARWATCH_MAP_ATTRIBUTION && !s.JARWATCH_MAP_TILES)
		refuse("JARWATCH_MAP_TILES", "is needed when JARWATCH_MAP_ATTRIBUTION is set: without tiles there is nobody to name");
	if (s.JARWATCH_NOTIFIERS?.includes("webhook")) {
		if (!s.JARWATCH_WEBHOOK_URL) refuse("JARWATCH_WEBHOOK_URL", "is needed when JARWATCH_NOTIFIERS names webhook");
		if (!s.JARWATCH_WEBHOOK_SECRET) refuse("JARWATCH_WEBHOOK_SECRET", "is needed when JARWATCH_NOTIFIERS names webhook");
	}
	if (s.JARWATCH_HEAD_TO?.length && s.JARWATCH_NOTIFIERS && !s.JARWATCH_NOTIFIERS.includes("email"))
		refuse("JARWATCH_HEAD_TO", "needs a channel for e-mail: name email in JARWATCH_NOTIFIERS and set it up in JARWATCH_CHANNELS");
	if (s.JARWATCH_SEND_TIMEOUT_SECONDS && s.JARWATCH_LEASE_SECONDS && s.JARWATCH_SEND_TIMEOUT_SECONDS >= s.JARWATCH_LEASE_SECONDS)
		refuse("JARWATCH_SEND_TIMEOUT_SECONDS", "must be shorter than JARWATCH_LEASE_SECONDS, or a slow send is claimed twice");
	if (s.JARWATCH_ROLES && s.JARWATCH_ROLES.length < ROLES.length && !s.JARWATCH_DATABASE_URL)
		refuse("JARWATCH_DATABASE_URL", "is needed when the roles run apart: one SQLite file serves one process");
	return problems;
}

/** What the program was told at its start, in plain names with units. */
export interface Settings {
	readonly dataFolder: string;
	readonly databaseUrl: string | undefined;
	/** How long a connection to PostgreSQL, or its answer, is waited for before it is asked whether it will come. */
	readonly databasePatienceMs: number;
	/** How long a start waits for a PostgreSQL that is away. */
	readonly startWaitMs: number;
	/** Under which names and numbers rest, the one that seals first; none: the file in the data folder. */
	readonly dataKeys: readonly string[] | undefined;
	readonly redisUrl: string | undefined;
	readonly queue: "in-process" | "bullmq";
	readonly queueName: string;
	readonly roles: readonly Role[];
	readonly host: string;
	readonly port: number;
	readonly apiKey: string | undefined;
	/** Machines whose word on who they speak for is taken, where tries and requests are counted by address. */
	readonly proxies: BlockList | undefined;
	/** Of one caller, in one process. */
	readonly requestsPerMinute: number;
	/** Where people's browsers find the pages; none: texts name no address. */
	readonly publicUrl: string | undefined;
	/** None: maps are drawn without anything from elsewhere. */
	readonly mapTiles: MapTiles | undefined;
	readonly inboundSecret: string | undefined;
	readonly notifiers: readonly string[];
	readonly fileNotifierPath: string | undefined;
	readonly webhookUrl: string | undefined;
	readonly webhookSecret: string | undefined;
	readonly channels: ChannelSettings;
	/** Whether webhooks and gateways over HTTP may lead into private networks, or into which. */
	readonly privateAddresses: PrivateAddresses;
	/** For so long an answer is kept under the Idempotency-Key of its request. */
	readonly idempotencyMs: number;
	readonly sweepMs: number;
	readonly dispatchMs: number;
	/** Path of the Chromium that prints reports; none: the usual places are looked at. */
	readonly chromium: string | undefined;
	/** How often new entries of the ledger are linked into its chain. */
	readonly sealMs: number;
	/** E-mail addresses to which the head of the ledger goes; none: it isn't mailed. */
	readonly headTo: readonly string[];
	readonly headEveryDays: number;
	readonly leaseMs: number;
	readonly sendTimeoutMs: number;
	readonly sendTries: number;
	readonly sendConcurrency: number;
	/** Messages a second by channel, of this process; a channel that isn't named has no limit. */
	readonly sendRates: Readonly<Record<string, number>>;
	/** Failures for now in a row after which a channel is left alone for a while. */
	readonly circuitFailures: number;
	readonly stopMs: number;
	readonly logLevel: string;
}

/**
 * Reads every setting at once.
 * @param environment usually process.env; an empty text counts as absent
 * @throws InputError `settings-refused` that lists every problem, and no value
 */
export function settingsFrom(environment: Readonly<Record<string, string | undefined>>): Settings {
	const problems: Problem[] = Object.keys(environment)
		.filter((name) => name.startsWith("JARWATCH_") && !OTHERS.test(name) && !(name in fields))
		.map((at) => ({ at, message: "is not a setting of this program" }));
	const values: Record<string, unknown> = {};
	for (const [name, field] of Object.entries(fields)) {
		const parsed = field.safeParse(environment[name] || undefined);
		if (parsed.success) values[name] = parsed.data;
		else problems.push(...parsed.error.issues.map((issue) => ({ at: name, message: withoutValue(issue.message) })));
	}
	problems.push(...disagreements(values as Partial<Values>).filter(({ at }) => !problems.some((known) => known.at === at)));
	const channels = channelsOf(values as Partial<Values>, environment, problems);
	if (problems.length > 0) {
		const lines = problems.map(({ at, message }) => `  ${at}: ${message}`).join("\n");
		throw new InputError("settings-refused", `The settings can't be used. Mend these and start again:\n${lines}`, { problems });
	}
	const s = values as Values;
	return {
		dataFolder: s.JARWATCH_DATA_FOLDER,
		databaseUrl: s.JARWATCH_DATABASE_URL,
		databasePatienceMs: s.JARWATCH_DATABASE_SECONDS * 1000,
		startWaitMs: s.JARWATCH_START_SECONDS * 1000,
		dataKeys: s.JARWATCH_DATA_KEY,
		redisUrl: s.JARWATCH_REDIS_URL,
		queue: s.JARWATCH_QUEUE,
		queueName: s.JARWATCH_QUEUE_NAME,
		roles: s.JARWATCH_ROLES,
		host: s.JARWATCH_HOST,
		port: s.JARWATCH_PORT,
		apiKey: s.JARWATCH_API_KEY,
		proxies: s.JARWATCH_PROXIES as BlockList | undefined,
		requestsPerMinute: s.JARWATCH_REQUESTS_PER_MINUTE,
		publicUrl: s.JARWATCH_PUBLIC_URL,
		mapTiles: mapTilesOf(s),
		inboundSecret: s.JARWATCH_INBOUND_SECRET,
		notifiers: s.JARWATCH_NOTIFIERS,
		fileNotifierPath: s.JARWATCH_FILE_NOTIFIER_PATH,
		webhookUrl: s.JARWATCH_WEBHOOK_URL,
		webhookSecret: s.JARWATCH_WEBHOOK_SECRET,
		channels,
		privateAddresses: s.JARWATCH_PRIVATE_ADDRESSES as PrivateAddresses,
		idempotencyMs: s.JARWATCH_IDEMPOTENCY_HOURS * 3_600_000,
		sweepMs: s.JARWATCH_SWEEP_SECONDS * 1000,
		dispatchMs: s.JARWATCH_DISPATCH_SECONDS * 1000,
		chromium: s.JARWATCH_CHROMIUM,
		sealMs: s.JARWATCH_SEAL_SECONDS * 1000,
		headTo: s.JARWATCH_HEAD_TO,
		headEveryDays: s.JARWATCH_HEAD_EVERY_DAYS,
		leaseMs: s.JARWATCH_LEASE_SECONDS * 1000,
		sendTimeoutMs: s.JARWATCH_SEND_TIMEOUT_SECONDS * 1000,
		sendTries: s.JARWATCH_SEND_TRIES,
		sendConcurrency: s.JARWATCH_SEND_CONCURRENCY,
		sendRates: s.JARWATCH_SEND_RATES as Record<string, number>,
		circuitFailures: s.JARWATCH_CIRCUIT_FAILURES,
		stopMs: s.JARWATCH_STOP_SECONDS * 1000,
		logLevel: s.JARWATCH_LOG_LEVEL,
	};
}

function mapTilesOf({ JARWATCH_MAP_TILES: template, JARWATCH_MAP_ATTRIBUTION: attribution }: Values): MapTiles | undefined {
	if (template === undefined || attribution === undefined) return undefined;
	return { template, origin: tileOrigin(template) as string, attribution };
}

/** Channels of the program that are set up in JARWATCH_CHANNELS. */
const SET_UP_THERE = ["sms-gateway", "smpp", "email", "web-push"] as const;

function channelsOf(
	{ JARWATCH_CHANNELS: given, JARWATCH_NOTIFIERS: notifiers = [] }: Partial<Values>,
	environment: Readonly<Record<string, string | undefined>>,
	problems: Problem[],
): ChannelSettings {
	const refuse = (at: string, message: string) => problems.push({ at: `JARWATCH_CHANNELS${at}`, message: withoutValue(message) });
	const json = given === undefined ? "{}" : jsonOf(given);
	if (json === undefined) {
		refuse("", "must be a JSON object, or the path of a file that can be read and holds one");
		return NO_CHANNELS;
	}
	const read = channelSettingsFrom(json, environment);
	if ("problems" in read) {
		for (const { at, message } of read.problems) refuse(at, message);
		return NO_CHANNELS;
	}
	for (const name of SET_UP_THERE)
		if (notifiers.includes(name) && !read.settings[name]) refuse(`/${name}`, "is needed when JARWATCH_NOTIFIERS names it");
	return read.settings;
}

/** @returns the JSON that is given outright, or that stands in the file; none where the file can't be read */
function jsonOf(given: string): string | undefined {
	if (given.trimStart().startsWith("{")) return given;
	try {
		return readFileSync(given, "utf8");
	} catch {
		return undefined;
	}
}

function isLoopback(host: string): boolean {
	return host === "localhost" || host === "::1" || host.startsWith("127.");
}

/** zod may quote what it received; a setting can be a secret. */
function withoutValue(message: string): string {
	return message.replace(/, received .*/u, "").replace(/received ["'].*["']/u, "");
}
