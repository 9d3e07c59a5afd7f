import { join } from "node:path";
import { type DynamicModule, type InjectionToken, Module, type Provider } from "@nestjs/common";
import type { Logger } from "pino";
import { migrations } from "../migrations/index.js";
import { apiModule } from "./api/module.js";
import { Assignments } from "./assignment/assignments.js";
import { Capacities } from "./assignment/capacities.js";
import { Decisions } from "./assignment/decisions.js";
import { assignmentsFromList } from "./assignment/list.js";
import { Proposals } from "./assignment/proposals.js";
import { AssignmentSolver } from "./assignment/solver.js";
import { ThreadSolver } from "./assignment/thread-solver.js";
import { Answers } from "./duties/answers.js";
import { CalendarFeeds } from "./duties/calendar.js";
import { followingHouseholds, type HandsParts } from "./duties/changing-hands.js";
import { Escalation } from "./duties/escalation.js";
import { ForecastsAnew } from "./duties/forecasts-anew.js";
import { GeneratorRecords } from "./duties/generator-records.js";
import { HandOvers } from "./duties/hand-overs.js";
import { RepliesInbox } from "./duties/inbox.js";
import { DutyKinds } from "./duties/kinds.js";
import { dutyKinds } from "./duties/list.js";
import { Replies } from "./duties/replies.js";
import { ResidualReadings } from "./duties/residual-readings.js";
import { Rounds } from "./duties/rounds.js";
import { Scheduler } from "./duties/scheduler.js";
import { StrengthReadings } from "./duties/strength-readings.js";
import { Sweep } from "./duties/sweep.js";
import { TaskHands } from "./duties/task-hands.js";
import { WaterFacts } from "./duties/water-facts.js";
import { entities } from "./entities.js";
import { afterBatteriesImported, afterLotsImported, afterRunsImported } from "./generators/after-import.js";
import { importKinds } from "./imports.js";
import { Loops } from "./loops.js";
import { catalogueGaps, checkCatalogues } from "./messages/catalogues.js";
import { type Notifiers, notifiersFrom } from "./messages/channels/registry.js";
import { Courier } from "./messages/courier.js";
import { Dispatcher } from "./messages/dispatcher.js";
import { Failures } from "./messages/failures.js";
import type { Notifier } from "./messages/notifier.js";
import { StoredPushSubscriptions } from "./messages/push-subscriptions.js";
import { Receipts } from "./messages/receipts.js";
import { type Wake, wakeAfterCommit } from "./messages/wake.js";
import { dueNow } from "./programme/due.js";
import { Importer } from "./programme/import/importer.js";
import { currentPolicy } from "./programme/policy.js";
import { BullWakeQueue } from "./queue/bullmq.js";
import { InProcessWakeQueue } from "./queue/in-process.js";
import { WakeQueue } from "./queue/wake-queue.js";
import type { Settings } from "./settings/settings.js";
import { Batches } from "./stock/batches.js";
import { householdsChanged, RETEST } from "./stock/due-work.js";

import { StockItems } from "./stock/items.js";
import { Calendars } from "./stock/places.js";
import { forecastAnew } from "./stock/stale.js";
import { StockMoves } from "./stock/stock-moves.js";
import { Store } from "./store/store.js";
import { Clock, SystemClock } from "./time/clock.js";
import { Ids } from "./time/ids.js";
import { Randomness, SystemRandomness } from "./time/randomness.js";
import { planContainers } from "./water/first-plan.js";
import { HouseholdFacts } from "./water/household-facts.js";
import { HouseholdWater } from "./water/household-water.js";
import { Protocols } from "./water/protocol/accept.js";
import { HouseholdProtocols } from "./water/protocol/household-protocol.js";
import { Water } from "./water/water.js";

/** What a caller may put in place of the usual: a demonstration brings a clock that it moves and people who answer. */
export interface Parts {
	readonly log: Logger;
	readonly clock?: Clock;
	readonly randomness?: Randomness;
	readonly notifiers?: readonly Notifier[];
	/** Who looks after whom is found by this; else by a thread of its own. */
	readonly solver?: AssignmentSolver;
	/** False: no interface over HTTP. */
	readonly api?: boolean;
}

/** Names of the channels there are; known once they are made, and asked for later. */
class ChannelNames {
	known: readonly string[] = [];
}

/** The channels that the settings name, by name. */
export const NOTIFIERS = Symbol("notifiers by name");
const WAKE = Symbol("wake after commit");
const HANDS = Symbol("what changing hands is made of");

@Module({})
class ServicesModule {}

@Module({})
class AppModule {}

/** The composition root: the only place where a port meets its adapter. */
export function appModule(settings: Settings, parts: Parts): DynamicModule {
	checkCatalogues();
	const gaps = catalogueGaps();
	if (gaps.length > 0) parts.log.warn({ gaps }, "texts that a language lacks go out in the programme's language");
	const services = servicesModule(settings, parts);
	return { module: AppModule, imports: parts.api === false ? [services] : [services, apiModule(settings, [services])] };
}

function servicesModule(settings: Settings, parts: Parts): DynamicModule {
	const { log } = parts;
	const clock = parts.clock ?? new SystemClock();
	const randomness = parts.randomness ?? new SystemRandomness();
	const providers: Provider[] = [
		{ provide: Clock, useValue: clock },
		{ provide: Randomness, useValue: randomness },
		{ provide: Ids, useValue: new Ids(clock, randomness) },
		{ provide: Calendars, useValue: new Calendars() },
		{ provide: Store, useFactory: () => Store.open({ location: databaseLocation(settings), entities, migrations }) },
		made(
			StoredPushSubscriptions,
			[Store, Clock, Ids],
			(...on: ConstructorParameters<typeof StoredPushSubscriptions>) => new StoredPushSubscriptions(...on),
		),
		{ provide: ChannelNames, useValue: new ChannelNames() },
		made(
			Receipts,
			[Store, Clock, Ids, WAKE, ChannelNames],
			(store: Store, now: Clock, ids: Ids, wake: Wake, names: ChannelNames) =>
				new Receipts(store, now, ids, wake, () => names.known),
		),
		{
			provide: NOTIFIERS,
			useFactory: async (
				names: ChannelNames,
				receipts: Receipts,
				replies: Replies,
				subscriptions: StoredPushSubscriptions,
			): Promise<Notifiers> => {
				const inbox = new RepliesInbox(replies, receipts);
				const notifiers = parts.notifiers
					? new Map(parts.notifiers.map((notifier) => [notifier.name, notifier]))
					: await notifiersFrom({
							settings,
							clock,
							randomness,
							log,
							inbox,
							subscriptions,
							out: process.stdout,
							ownSettings: ownSettings(),
						});
				names.known = [...notifiers.keys()];
				return notifiers;
			},
			inject: [ChannelNames, Receipts, Replies, StoredPushSubscriptions],
		},
		{
			provide: WakeQueue,
			useFactory: () =>
				settings.queue === "bullmq"
					? new BullWakeQueue({ redisUrl: settings.redisUrl as string, queueName: settings.queueName }, log)
					: new InProcessWakeQueue(log),
		},
		{ provide: WAKE, useFactory: (queue: WakeQueue): Wake => wakeAfterCommit(queue), inject: [WakeQueue] },
		made(DutyKinds, [Ids, Calendars], (ids: Ids, calendars: Calendars) => new DutyKinds(dutyKinds({ ids, calendars }))),
		made(Batches, [Store, Clock, Ids, Calendars], (...on: ConstructorParameters<typeof Batches>) => new Batches(...on)),
		made(StockItems, [Store, Clock, Ids], (...on: ConstructorParameters<typeof StockItems>) => new StockItems(...on)),
		made(StockMoves, [Store, Clock, Ids, Calendars], (...on: ConstructorParameters<typeof StockMoves>) => new StockMoves(...on)),
		made(Water, [Store, Clock, Batches], (...on: ConstructorParameters<typeof Water>) => new Water(...on)),
		made(Protocols, [Store, Clock, Ids], async (...on: ConstructorParameters<typeof Protocols>) => {
			const protocols = new Protocols(...on);
			await protocols.acceptShipped("programme");
			return protocols;
		}),
		made(
			HouseholdProtocols,
			[Store, Clock, Ids],
			(...on: ConstructorParameters<typeof HouseholdProtocols>) => new HouseholdProtocols(...on),
		),
		made(
			Sweep,
			[Store, Clock, Randomness, Ids, DutyKinds, WAKE],
			(...on: ConstructorParameters<typeof Sweep>) => new Sweep(...on),
		),
		made(
			Escalation,
			[Store, Clock, Ids, DutyKinds, WAKE],
			(...on: ConstructorParameters<typeof Escalation>) => new Escalation(...on),
		),
		made(Answers, [Store, Clock, Ids, DutyKinds, WAKE], (...on: ConstructorParameters<typeof Answers>) => new Answers(...on)),
		made(
			CalendarFeeds,
			[Store, Clock, Ids, DutyKinds],
			(...on: ConstructorParameters<typeof CalendarFeeds>) => new CalendarFeeds(...on),
		),
		made(
			TaskHands,
			[Store, Clock, Ids, DutyKinds, WAKE],
			(...on: ConstructorParameters<typeof TaskHands>) => new TaskHands(...on),
		),
		made(
			Replies,
			[Store, Clock, Ids, Answers, DutyKinds, WAKE],
			(store: Store, now: Clock, ids: Ids, answers: Answers, kinds: DutyKinds, wake: Wake) =>
				new Replies(store, now, ids, answers, kinds, wake, log),
		),
		made(Failures, [Store, Clock, Ids, WAKE], (...on: ConstructorParameters<typeof Failures>) => new Failures(...on)),
		made(
			GeneratorRecords,
			[Store, Clock, Ids, Calendars],
			(...on: ConstructorParameters<typeof GeneratorRecords>) => new GeneratorRecords(...on),
		),
		made(
			StrengthReadings,
			[Store, Batches, Answers],
			(...on: ConstructorParameters<typeof StrengthReadings>) => new StrengthReadings(...on),
		),
		made(
			ForecastsAnew,
			[Store, Clock, Ids, Calendars, WAKE],
			(...on: ConstructorParameters<typeof ForecastsAnew>) => new ForecastsAnew(...on),
		),
		made(WaterFacts, [Store, Clock, Ids, Calendars], (...on: ConstructorParameters<typeof WaterFacts>) => new WaterFacts(...on)),
		made(HouseholdFacts, [Store, Clock, Ids], (...on: ConstructorParameters<typeof HouseholdFacts>) => new HouseholdFacts(...on)),
		made(
			HouseholdWater,
			[Store, Clock, Calendars],
			(...on: ConstructorParameters<typeof HouseholdWater>) => new HouseholdWater(...on),
		),
		made(
			ResidualReadings,
			[Store, Clock, Ids, Calendars, Answers, WAKE],
			(...on: ConstructorParameters<typeof ResidualReadings>) => new ResidualReadings(...on),
		),
		made(
			Scheduler,
			[Sweep, Escalation, ForecastsAnew],
			(sweep: Sweep, escalation: Escalation, anew: ForecastsAnew) =>
				new Scheduler(sweep, escalation, anew, settings.sweepMs, log),
		),
		{ provide: AssignmentSolver, useValue: parts.solver ?? new ThreadSolver() },
		made(HANDS, [Ids, DutyKinds, WAKE], (ids: Ids, kinds: DutyKinds, wake: Wake): HandsParts => ({ ids, kinds, wake })),
		made(
			Assignments,
			[Store, Clock, Ids, HANDS],
			(store: Store, now: Clock, ids: Ids, hands: HandsParts) => new Assignments(store, now, ids, followingHouseholds(hands)),
		),
		made(Capacities, [Store, Clock, Ids], (...on: ConstructorParameters<typeof Capacities>) => new Capacities(...on)),
		made(
			Proposals,
			[Store, Clock, Ids, AssignmentSolver],
			(store: Store, now: Clock, ids: Ids, solver: AssignmentSolver) => new Proposals(store, now, ids, solver, log),
		),
		made(
			Decisions,
			[Store, Clock, Ids, HANDS],
			(store: Store, now: Clock, ids: Ids, hands: HandsParts) => new Decisions(store, now, ids, followingHouseholds(hands)),
		),
		made(
			HandOvers,
			[Store, Clock, HANDS, Proposals, Decisions],
			(...on: ConstructorParameters<typeof HandOvers>) => new HandOvers(...on),
		),
		made(Rounds, [Store], (store: Store) => new Rounds(store)),
		made(
			Importer,
			[Store, Clock, Ids, HANDS],
			(store: Store, now: Clock, ids: Ids, hands: HandsParts) =>
				new Importer(store, now, ids, {
					kinds: importKinds,
					writing: { assignments: assignmentsFromList({ ids, afterMoving: followingHouseholds(hands) }) },
					// Jars that came in by the thousand become due at once: the sweep forecasts them, a page at a time.
					afterWriting: {
						containers: async (tx, containerIds) => planContainers(tx, containerIds, await currentPolicy(tx), now.nowMs()),
						batches: (tx, batchIds) => dueNow(tx, RETEST, "batch", batchIds, now.nowMs()),
						habits: (tx, householdIds) => householdsChanged(tx, householdIds, now.nowMs()),
						households: (tx, householdIds) => householdsChanged(tx, householdIds, now.nowMs()),
						runs: (tx, runIds) => afterRunsImported(tx, runIds, now.nowMs()),
						batteries: (tx, batteryIds) => afterBatteriesImported(tx, batteryIds, now.nowMs()),
						"kit-lots": (tx, lotIds) => afterLotsImported(tx, lotIds),
						areas: async (tx, areaIds) => {
							const { oldestUseDays } = await currentPolicy(tx);
							await forecastAnew(tx, ids, { because: "areas changed", areaIds, nowMs: now.nowMs(), oldestUseDays });
						},
					},
				}),
		),
		made(
			Dispatcher,
			[Store, NOTIFIERS, Ids],
			(store: Store, notifiers: Notifiers, ids: Ids) =>
				new Dispatcher({ store, clock, randomness, ids, notifiers, log }, settings),
		),
		made(
			Courier,
			[Store, Clock, WakeQueue, Dispatcher],
			(store: Store, now: Clock, queue: WakeQueue, dispatcher: Dispatcher) =>
				new Courier({ store, clock: now, queue, dispatcher, log }, settings),
		),
		made(
			Loops,
			[Scheduler, Courier, WakeQueue, NOTIFIERS, Store],
			(scheduler: Scheduler, courier: Courier, queue: WakeQueue, notifiers: Notifiers, store: Store) =>
				new Loops(settings, scheduler, courier, queue, notifiers, store),
		),
	];
	return {
		module: ServicesModule,
		providers,
		exports: providers.map((provider) => (provider as { provide: InjectionToken }).provide),
	};
}

function made(provide: InjectionToken, inject: InjectionToken[], useFactory: (...on: never[]) => unknown): Provider {
	return { provide, inject, useFactory: useFactory as (...on: unknown[]) => unknown };
}

function databaseLocation(settings: Settings): string {
	return settings.databaseUrl ?? join(settings.dataFolder, "jarwatch.sqlite");
}

/** What a notifier from another package may read: only what is meant for notifiers. */
function ownSettings(): Record<string, string> {
	const prefix = "JARWATCH_NOTIFIER_";
	return Object.fromEntries(
		Object.entries(process.env).flatMap(([name, value]) =>
			name.startsWith(prefix) && value ? [[name.slice(prefix.length), value]] : [],
		),
	);
}
