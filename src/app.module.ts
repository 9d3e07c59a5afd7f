import { type DynamicModule, type InjectionToken, Module, type Provider } from "@nestjs/common";
import type { Logger } from "pino";
import { Accounts } from "./access/accounts.js";
import { ApiKeys } from "./access/api-keys.js";
import { AreaDuties } from "./access/area-duties.js";
import { Callers } from "./access/callers.js";
import { SecondFactor } from "./access/second-factor.js";
import { Sessions } from "./access/sessions.js";
import { SignIn } from "./access/sign-in.js";
import { SignInByCode } from "./access/sign-in-by-code.js";
import { Throttle } from "./access/throttle.js";
import { apiModule } from "./api/module.js";
import { Assignments } from "./assignment/assignments.js";
import { Capacities } from "./assignment/capacities.js";
import { capacitiesFromList } from "./assignment/capacity-import.js";
import { Decisions } from "./assignment/decisions.js";
import { assignmentsFromList } from "./assignment/list.js";
import { Proposals } from "./assignment/proposals.js";
import { AssignmentSolver } from "./assignment/solver.js";
import { ThreadSolver } from "./assignment/thread-solver.js";
import { Coverage } from "./audit/coverage/coverage.js";
import { Exports } from "./audit/exports/exports.js";
import { HeadMail } from "./audit/head-mail/head-mail.js";
import { HeadMailLoop } from "./audit/head-mail/loop.js";
import { FollowUp } from "./audit/incidents/follow-up.js";
import { Incidents } from "./audit/incidents/incidents.js";
import { incidentKinds } from "./audit/incidents/list.js";
import { IncidentTelling } from "./audit/incidents/telling.js";
import { TimeLine } from "./audit/incidents/time-line.js";
import { ReadingChecks } from "./audit/readings/reading-checks.js";
import { MonthlyReports } from "./audit/reports/monthly.js";
import { SampleFindings } from "./audit/sample/findings.js";
import { AuditResults } from "./audit/sample/results.js";
import { Samples } from "./audit/sample/samples.js";
import { AbsenceDays } from "./duties/absence-days.js";
import { Answers } from "./duties/answers.js";
import { CalendarFeeds } from "./duties/calendar.js";
import { followingHouseholds, type HandsParts } from "./duties/changing-hands.js";
import { DoseNews } from "./duties/dose-news.js";
import { Escalation } from "./duties/escalation.js";
import { ForecastsAnew } from "./duties/forecasts-anew.js";
import { GeneratorRecords } from "./duties/generator-records.js";
import { HandOvers } from "./duties/hand-overs.js";
import { RepliesInbox } from "./duties/inbox.js";
import { DutyKinds } from "./duties/kinds.js";
import { dutyKinds } from "./duties/list.js";
import { LongWaiting } from "./duties/long-waiting.js";
import { PageAnswers } from "./duties/page-answers.js";
import { Replies } from "./duties/replies.js";
import { ResidualReadings } from "./duties/residual-readings.js";
import { Rounds } from "./duties/rounds.js";
import { Scheduler } from "./duties/scheduler.js";
import { StrengthReadings } from "./duties/strength-readings.js";
import { Sweep } from "./duties/sweep.js";
import { TaskHands } from "./duties/task-hands.js";
import { WaterFacts } from "./duties/water-facts.js";
import { Withheld } from "./duties/withheld.js";
import { afterBatteriesImported, afterLotsImported, afterRunsImported } from "./generators/after-import.js";
import { importKinds } from "./imports.js";
import { Heads } from "./ledger/heads.js";
import { Sealer } from "./ledger/sealer.js";
import { SealingLoop } from "./ledger/sealing-loop.js";
import { Loops } from "./loops.js";
import { catalogueGaps, checkCatalogues } from "./messages/catalogues.js";
import { ChannelCheck } from "./messages/channel-check.js";
import { type Notifiers, notifiersFrom } from "./messages/channels/registry.js";
import { Courier } from "./messages/courier.js";
import { Dispatcher } from "./messages/dispatcher.js";
import { Failures } from "./messages/failures.js";
import type { Notifier } from "./messages/notifier.js";
import { StoredPushSubscriptions } from "./messages/push-subscriptions.js";
import { Receipts } from "./messages/receipts.js";
import { type Wake, wakeAfterCommit } from "./messages/wake.js";
import { openedStore } from "./opened-store.js";
import { Clearing } from "./personal/clearing.js";
import { Consents } from "./personal/consents.js";
import { Erasure } from "./personal/erasure.js";
import { NightlyClearing } from "./personal/nightly.js";
import { OwnData } from "./personal/own-data.js";
import { dueNow } from "./programme/due.js";
import { Importer } from "./programme/import/importer.js";
import { currentPolicy } from "./programme/policy.js";
import { InProcessWakeQueue } from "./queue/in-process.js";
import { WakeQueue } from "./queue/wake-queue.js";
import type { Settings } from "./settings/settings.js";
import { Batches } from "./stock/batches.js";
import { householdsChanged, RETEST } from "./stock/due-work.js";

import { StockItems } from "./stock/items.js";
import { Calendars } from "./stock/places.js";
import { forecastAnew } from "./stock/stale.js";
import { StockMoves } from "./stock/stock-moves.js";
import { onceThere } from "./store/once-there.js";
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
	/** How long a PostgreSQL that is away is waited for, in ms; left out: not at all. */
	readonly startWaitMs?: number;
}

/** Names of the channels there are; known once they are made, and asked for later. */
class ChannelNames {
	known: readonly string[] = [];
}

/** How often it is looked whether the ledger's head is to be mailed, or mailed again. */
const HEAD_MAIL_LOOK_MS = 15_000;

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
		{ provide: Store, useFactory: () => onceThere(() => openedStore(settings, log), { waitMs: parts.startWaitMs ?? 0, log }) },
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
			useFactory: async () => {
				if (settings.queue !== "bullmq") return new InProcessWakeQueue(log);
				// Only here: whoever has no Redis needn't wait for its client to be read.
				const { BullWakeQueue } = await import("./queue/bullmq.js");
				return new BullWakeQueue({ redisUrl: settings.redisUrl as string, queueName: settings.queueName }, log);
			},
		},
		{ provide: WAKE, useFactory: (queue: WakeQueue): Wake => wakeAfterCommit(queue), inject: [WakeQueue] },
		made(Sealer, [Store, Clock], (...on: ConstructorParameters<typeof Sealer>) => new Sealer(...on)),
		made(SealingLoop, [Sealer], (sealer: Sealer) => new SealingLoop(sealer, settings.sealMs, log)),
		made(Heads, [Store, Clock, Ids], (...on: ConstructorParameters<typeof Heads>) => new Heads(...on)),
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
		made(
			PageAnswers,
			[Store, Clock, Ids, Answers, DutyKinds, WAKE],
			(...on: ConstructorParameters<typeof PageAnswers>) => new PageAnswers(...on),
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
		made(DoseNews, [Store, Clock, Ids, Calendars, WAKE], (...on: ConstructorParameters<typeof DoseNews>) => new DoseNews(...on)),
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
		made(Withheld, [Store, Clock, Ids, WAKE], (...on: ConstructorParameters<typeof Withheld>) => new Withheld(...on)),
		made(LongWaiting, [Store, Clock, Ids], (...on: ConstructorParameters<typeof LongWaiting>) => new LongWaiting(...on)),
		made(
			Scheduler,
			[Sweep, Escalation, LongWaiting, ForecastsAnew, DoseNews, AbsenceDays, Incidents, IncidentTelling],
			(
				sweep: Sweep,
				escalation: Escalation,
				longWaiting: LongWaiting,
				anew: ForecastsAnew,
				doseNews: DoseNews,
				absences: AbsenceDays,
				incidents: Incidents,
				telling: IncidentTelling,
			) => {
				const afterwards = [() => incidents.look(), () => telling.tell()];
				return new Scheduler(sweep, escalation, longWaiting, anew, doseNews, absences, afterwards, settings.sweepMs, log);
			},
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
		made(
			AbsenceDays,
			[Store, Clock, HANDS, HandOvers],
			(store: Store, now: Clock, hands: HandsParts, handOvers: HandOvers) => new AbsenceDays(store, now, hands, handOvers, log),
		),
		made(Sessions, [Store, Clock, Ids], (...on: ConstructorParameters<typeof Sessions>) => new Sessions(...on)),
		made(ApiKeys, [Store, Clock, Ids], (...on: ConstructorParameters<typeof ApiKeys>) => new ApiKeys(...on)),
		made(Callers, [Store, Sessions, ApiKeys], (...on: ConstructorParameters<typeof Callers>) => new Callers(...on)),
		made(AreaDuties, [Store, Clock, Ids], (...on: ConstructorParameters<typeof AreaDuties>) => new AreaDuties(...on)),
		made(Throttle, [Store, Clock], (...on: ConstructorParameters<typeof Throttle>) => new Throttle(...on)),
		made(SecondFactor, [Store, Clock, Ids], (...on: ConstructorParameters<typeof SecondFactor>) => new SecondFactor(...on)),
		made(
			SignIn,
			[Store, Clock, Sessions, SecondFactor, Throttle],
			(...on: ConstructorParameters<typeof SignIn>) => new SignIn(...on),
		),
		made(
			SignInByCode,
			[Store, Clock, Ids, Sessions, Throttle, WAKE],
			(...on: ConstructorParameters<typeof SignInByCode>) => new SignInByCode(...on),
		),
		made(
			Accounts,
			[Store, Clock, Ids, Sessions, Throttle, WAKE],
			(store: Store, now: Clock, ids: Ids, sessions: Sessions, throttle: Throttle, wake: Wake) =>
				new Accounts(store, now, ids, sessions, throttle, wake, settings.publicUrl),
		),
		made(Consents, [Store, Clock, Ids], (...on: ConstructorParameters<typeof Consents>) => new Consents(...on)),
		made(OwnData, [Store], (store: Store) => new OwnData(store)),
		made(Erasure, [Store, Clock, Ids], (...on: ConstructorParameters<typeof Erasure>) => new Erasure(...on)),
		made(Clearing, [Store, Clock, Ids, Erasure], (...on: ConstructorParameters<typeof Clearing>) => new Clearing(...on)),
		made(NightlyClearing, [Clearing], (clearing: Clearing) => new NightlyClearing(clearing, log)),
		made(Rounds, [Store], (store: Store) => new Rounds(store)),
		made(
			Incidents,
			[Store, Clock, Ids],
			(store: Store, clock: Clock, ids: Ids) => new Incidents(store, clock, ids, incidentKinds()),
		),
		made(FollowUp, [Store, Clock, Ids], (...on: ConstructorParameters<typeof FollowUp>) => new FollowUp(...on)),
		made(TimeLine, [Store], (store: Store) => new TimeLine(store)),
		made(
			IncidentTelling,
			[Store, Clock, Ids, Incidents, WAKE],
			(...on: ConstructorParameters<typeof IncidentTelling>) => new IncidentTelling(...on),
		),
		made(Coverage, [Store, Clock], (...on: ConstructorParameters<typeof Coverage>) => new Coverage(...on)),
		made(ReadingChecks, [Store, Clock], (...on: ConstructorParameters<typeof ReadingChecks>) => new ReadingChecks(...on)),
		made(Samples, [Store, Clock, Ids, Randomness], (...on: ConstructorParameters<typeof Samples>) => new Samples(...on)),
		made(AuditResults, [Store, Clock, Ids], (...on: ConstructorParameters<typeof AuditResults>) => new AuditResults(...on)),
		made(
			SampleFindings,
			[Store, Clock, Samples],
			(...on: ConstructorParameters<typeof SampleFindings>) => new SampleFindings(...on),
		),
		made(
			MonthlyReports,
			[Store, Clock, Coverage, SampleFindings],
			(...on: ConstructorParameters<typeof MonthlyReports>) => new MonthlyReports(...on),
		),
		made(
			HeadMail,
			[Store, Clock, Ids, Heads, NOTIFIERS],
			(store: Store, now: Clock, ids: Ids, heads: Heads, notifiers: Notifiers) =>
				new HeadMail({ store, clock: now, ids, randomness, heads, email: notifiers.get("email"), log }, settings),
		),
		made(HeadMailLoop, [HeadMail], (mail: HeadMail) => new HeadMailLoop(mail, HEAD_MAIL_LOOK_MS, log)),
		made(Exports, [Store, Coverage], (...on: ConstructorParameters<typeof Exports>) => new Exports(...on)),
		made(
			Importer,
			[Store, Clock, Ids, HANDS],
			(store: Store, now: Clock, ids: Ids, hands: HandsParts) =>
				new Importer(store, now, ids, {
					kinds: importKinds,
					writing: {
						assignments: assignmentsFromList({ ids, afterMoving: followingHouseholds(hands) }),
						capacities: capacitiesFromList(ids),
					},
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
			ChannelCheck,
			[Store, Clock, Ids, NOTIFIERS],
			(store: Store, now: Clock, ids: Ids, notifiers: Notifiers) =>
				new ChannelCheck(store, now, ids, notifiers, settings.sendTimeoutMs),
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
			[Scheduler, Courier, WakeQueue, NOTIFIERS, SealingLoop, NightlyClearing, HeadMailLoop, Store],
			(
				scheduler: Scheduler,
				courier: Courier,
				queue: WakeQueue,
				notifiers: Notifiers,
				sealing: SealingLoop,
				clearing: NightlyClearing,
				headMail: HeadMailLoop,
				store: Store,
			) => new Loops(settings, scheduler, courier, queue, notifiers, sealing, clearing, headMail, store),
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

/** What a notifier from another package may read: only what is meant for notifiers. */
function ownSettings(): Record<string, string> {
	const prefix = "JARWATCH_NOTIFIER_";
	return Object.fromEntries(
		Object.entries(process.env).flatMap(([name, value]) =>
			name.startsWith(prefix) && value ? [[name.slice(prefix.length), value]] : [],
		),
	);
}
