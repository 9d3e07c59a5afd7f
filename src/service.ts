import { NestFactory } from "@nestjs/core";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import { configureApi } from "./api/configure.js";
import { fastifyAdapter } from "./api/edge/adapter.js";
import { appModule, type Parts } from "./app.module.js";
import { newLog } from "./log/log.js";
import { Loops } from "./loops.js";
import { configurePages } from "./pages/configure.js";
import type { Settings } from "./settings/settings.js";
import { onceThere } from "./store/once-there.js";

/** A service that is put together and doesn't yet do anything by itself. */
export interface Service {
	readonly app: NestFastifyApplication;
	/** Listens, where this process has an interface, and begins the loops of its roles. */
	start(): Promise<void>;
	/** @returns where it can be reached; none where it has no interface or doesn't listen yet */
	address(): string | undefined;
	/** Takes nothing new, ends what is at work, lets go of everything. */
	stop(): Promise<void>;
}

/**
 * Puts a service together from its settings: database opened and brought up to date, channels made, nothing begun.
 * @throws InputError where settings, database or channels can't be used
 */
export async function preparedService(settings: Settings, parts: Partial<Parts> = {}): Promise<Service> {
	const log = parts.log ?? newLog(settings.logLevel);
	const api = settings.roles.includes("api") && parts.api !== false;
	const app = await NestFactory.create<NestFastifyApplication>(appModule(settings, { ...parts, log, api }), fastifyAdapter(), {
		logger: false,
		bodyParser: false,
		abortOnError: false,
	});
	app.enableShutdownHooks();
	if (api) {
		configureApi(app, settings, log);
		// The database is asked before anything is put in place: it may be away again.
		await onceThere(() => configurePages(app, log, settings), { waitMs: parts.startWaitMs ?? 0, log });
	}
	await app.init();
	let address: string | undefined;
	return {
		app,
		async start() {
			if (api) {
				await app.listen(settings.port, settings.host);
				address = await app.getUrl();
			}
			await app.get(Loops).start();
			const { roles, queue } = settings;
			log.info({ address, roles, database: settings.databaseUrl ? "postgres" : "sqlite", queue }, "ready");
		},
		address: () => address,
		stop: () => app.close(),
	};
}

/** Puts a service together, once its database is there, and starts it; the system's SIGTERM or SIGINT stops it in order. */
export async function startedService(settings: Settings, parts: Partial<Parts> = {}): Promise<Service> {
	const service = await preparedService(settings, { startWaitMs: settings.startWaitMs, ...parts });
	await service.start();
	return service;
}
