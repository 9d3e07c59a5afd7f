import type { INestApplicationContext } from "@nestjs/common";
import { refreshLots } from "../generators/kit-lots.js";
import { refreshGenerators } from "../generators/refresh.js";
import { currentPolicy } from "../programme/policy.js";
import { refreshForecasts } from "../stock/forecasts.js";
import { Calendars } from "../stock/places.js";
import { Store } from "../store/store.js";
import { DAY_MS, VirtualClock } from "../time/clock.js";
import { planContainers } from "../water/first-plan.js";
import type { District } from "./district.js";
import { loadDistrict } from "./load.js";
import type { DemoNotifier } from "./notifier.js";
import { DemoRun } from "./run.js";
import { demoServices } from "./services.js";
import { writeStockHistory } from "./stock-history.js";
import type { TimelineEvent } from "./timeline.js";

/** A clock that stands where it is put until it is let go; from then on it goes as the machine's does. */
export class DemoClock extends VirtualClock {
	private offsetMs: number | undefined;

	/** @param realMs the machine's own clock */
	constructor(
		startMs: number,
		private readonly realMs: () => number,
	) {
		super(startMs);
	}

	override nowMs(): number {
		return this.offsetMs === undefined ? super.nowMs() : this.realMs() + this.offsetMs;
	}

	letGo(): void {
		this.offsetMs = Math.max(0, super.nowMs() - this.realMs());
	}
}

export interface DemoOptions {
	/** Another number, another district. */
	readonly start: number;
	readonly startAtMs: number;
	readonly days: number;
}

/** What went by. */
export interface DemoSummary {
	readonly district: District;
	readonly loaded: "loaded" | "there already";
	readonly events: readonly TimelineEvent[];
}

/**
 * Loads the invented district and lets the days go by on the virtual clock, through the program's own services.
 * @param services the program without loops of its own, with the demonstration's clock and notifier
 */
export async function demoDays(
	services: INestApplicationContext,
	clock: DemoClock,
	notifier: DemoNotifier,
	place: District,
	{ days, startAtMs }: DemoOptions,
): Promise<DemoSummary> {
	const loaded = await loadPlanned(services.get(Store), services.get(Calendars), place, clock.nowMs());
	const events: TimelineEvent[] = [];
	if (loaded === "loaded") {
		const run = new DemoRun(demoServices(services, clock), notifier, place, (event) => void events.push(event));
		await run.until(startAtMs + days * DAY_MS);
	}
	return { district: place, loaded, events };
}

/** Loads an invented district with its forecasts and its plans of work: all of it or, where the database holds something else, nothing. */
export function loadPlanned(
	store: Store,
	calendars: Calendars,
	place: District,
	nowMs: number,
): Promise<"loaded" | "there already"> {
	return loadDistrict(store, place, async (tx, batchIds) => {
		const moment = { policy: await currentPolicy(tx), nowMs };
		await writeStockHistory(tx, place);
		await refreshForecasts(tx, calendars, batchIds, moment.policy, moment.nowMs);
		const containers = place.containers.map(({ id }) => id);
		for (let from = 0; from < containers.length; from += 250)
			await planContainers(tx, containers.slice(from, from + 250), moment.policy, moment.nowMs);
		await refreshGenerators(
			tx,
			place.generators.map(({ id }) => id),
			moment,
		);
		await refreshLots(
			tx,
			place.generatorRecords.kitLots.map(({ id }) => id),
			moment,
		);
	});
}
