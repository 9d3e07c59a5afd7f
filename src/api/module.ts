import { type DynamicModule, Module, type ModuleMetadata, type Provider, type Type } from "@nestjs/common";
import { DutyKinds } from "../duties/kinds.js";
import { Scheduler } from "../duties/scheduler.js";
import { Dispatcher } from "../messages/dispatcher.js";
import { WakeQueue } from "../queue/wake-queue.js";
import type { Settings } from "../settings/settings.js";
import { Store } from "../store/store.js";
import { Clock } from "../time/clock.js";
import { Ids } from "../time/ids.js";
import { AccountsController } from "./access/accounts.js";
import { ApiKeysController } from "./access/api-keys.js";
import { AreaDutiesController } from "./access/area-duties.js";
import { MeController } from "./access/me.js";
import { SessionsController } from "./access/sessions.js";
import { SignInController } from "./access/sign-in.js";
import { AssignmentsController } from "./assignment/assignments.js";
import { CapacitiesController } from "./assignment/capacities.js";
import { HandOversController } from "./assignment/hand-overs.js";
import { ProposalsController } from "./assignment/proposals.js";
import { RoundsController } from "./assignment/rounds.js";
import { CoverageController } from "./audit/coverage.js";
import { CoverageRecordsController } from "./audit/coverage-records.js";
import { ExportsController } from "./audit/exports.js";
import { IncidentsController } from "./audit/incidents.js";
import { ReadingChecksController } from "./audit/reading-checks.js";
import { PrintSetting, ReportsController } from "./audit/reports.js";
import { SampleVisitsController } from "./audit/sample-visits.js";
import { SamplesController } from "./audit/samples.js";
import { CalendarsController } from "./duties/calendars.js";
import { TaskAnswersController } from "./duties/task-answers.js";
import { TaskHandsController } from "./duties/task-hands.js";
import { TasksController } from "./duties/tasks.js";
import { BatteriesController } from "./generators/batteries.js";
import { GeneratorCareController } from "./generators/care.js";
import { GeneratorInFullController } from "./generators/in-full.js";
import { KitLotsController } from "./generators/kit-lots.js";
import { RunsController } from "./generators/runs.js";
import { HealthController } from "./health/health.js";
import { Readiness } from "./health/readiness.js";
import { IdempotentRequests } from "./idempotency/interceptor.js";
import { KeptAnswers } from "./idempotency/kept-answers.js";
import { LedgerChainController } from "./ledger/chain.js";
import { LedgerController } from "./ledger/ledger.js";
import { Gateways, GatewaysController } from "./messages/gateways.js";
import { MessagesController } from "./messages/messages.js";
import { PreviewsController } from "./messages/previews.js";
import { ReceiptsController } from "./messages/receipts.js";
import { ReplaysController } from "./messages/replays.js";
import { RepliesController } from "./messages/replies.js";
import { TextsController } from "./messages/texts.js";
import { WithheldController } from "./messages/withheld.js";
import { Metrics } from "./metrics/metrics.js";
import { MetricsController } from "./metrics/metrics-page.js";
import { OwnDataController } from "./personal/own-data.js";
import { AreasController } from "./programme/areas.js";
import { GeneratorsController } from "./programme/generators.js";
import { HolidaysController } from "./programme/holidays.js";
import { HouseholdsController } from "./programme/households.js";
import { ImportsController } from "./programme/imports.js";
import { PeopleController } from "./programme/people.js";
import { ProgrammeController } from "./programme/programme.js";
import { PushSetting, PushSubscriptionsController } from "./programme/push-subscriptions.js";
import { ProgrammeRules } from "./programme/rules.js";
import { BatchesController } from "./stock/batches.js";
import { HoldingsController } from "./stock/holdings.js";
import { StockItemsController } from "./stock/items.js";
import { StockMovesController } from "./stock/moves.js";
import { PlansController } from "./stock/plans.js";
import { StockCheckController } from "./stock/stock-check.js";
import { StrengthTestsController } from "./stock/strength-tests.js";
import { ContainersController } from "./water/containers.js";
import { DosesController } from "./water/doses.js";
import { HouseholdWaterController } from "./water/households.js";
import { ProtocolHouseholdsController } from "./water/protocol-households.js";
import { ProtocolsController } from "./water/protocols.js";
import { ResidualChecksController } from "./water/residual-checks.js";

/** Every controller of the interface for programs: a new one is a line here. */
export const apiControllers: readonly Type[] = [
	HealthController,
	MetricsController,
	SignInController,
	SessionsController,
	MeController,
	AccountsController,
	ApiKeysController,
	AreaDutiesController,
	AreasController,
	HolidaysController,
	PeopleController,
	OwnDataController,
	PushSubscriptionsController,
	HouseholdsController,
	AssignmentsController,
	CapacitiesController,
	ProposalsController,
	HandOversController,
	RoundsController,
	GeneratorsController,
	GeneratorInFullController,
	RunsController,
	GeneratorCareController,
	BatteriesController,
	KitLotsController,
	BatchesController,
	StrengthTestsController,
	StockMovesController,
	StockCheckController,
	HoldingsController,
	StockItemsController,
	PlansController,
	DosesController,
	ResidualChecksController,
	ContainersController,
	HouseholdWaterController,
	ProtocolsController,
	ProtocolHouseholdsController,
	TasksController,
	TaskAnswersController,
	TaskHandsController,
	CalendarsController,
	RepliesController,
	MessagesController,
	PreviewsController,
	TextsController,
	ReplaysController,
	WithheldController,
	ReceiptsController,
	GatewaysController,
	CoverageController,
	CoverageRecordsController,
	SamplesController,
	IncidentsController,
	SampleVisitsController,
	ExportsController,
	ReadingChecksController,
	ReportsController,
	LedgerController,
	LedgerChainController,
	ProgrammeController,
	ImportsController,
];

type ApiSettings = Pick<Settings, "sweepMs" | "roles" | "idempotencyMs"> & Partial<Pick<Settings, "channels" | "chromium">>;

/** What the controllers need beside the services of the other rooms. */
export function apiProviders(settings: ApiSettings): Provider[] {
	const sweeper = (scheduler: Scheduler | undefined) => (settings.roles.includes("scheduler") ? scheduler : undefined);
	const sender = (dispatcher: Dispatcher | undefined) => (settings.roles.includes("worker") ? dispatcher : undefined);
	return [
		{
			provide: Metrics,
			useFactory: (store: Store, clock: Clock, scheduler?: Scheduler, dispatcher?: Dispatcher) =>
				new Metrics(store, clock, sweeper(scheduler), sender(dispatcher)),
			inject: [Store, Clock, { token: Scheduler, optional: true }, { token: Dispatcher, optional: true }],
		},
		{
			provide: ProgrammeRules,
			useFactory: (store: Store, clock: Clock, ids: Ids, kinds: DutyKinds) =>
				new ProgrammeRules(
					store,
					clock,
					ids,
					kinds.all.map(({ name }) => name),
				),
			inject: [Store, Clock, Ids, DutyKinds],
		},
		{ provide: PushSetting, useValue: { webPush: settings.channels?.["web-push"] } },
		{ provide: PrintSetting, useValue: new PrintSetting(settings.chromium) },
		{
			provide: IdempotentRequests,
			useFactory: (store: Store, clock: Clock) =>
				new IdempotentRequests(store, new KeptAnswers(store, clock, settings.idempotencyMs)),
			inject: [Store, Clock],
		},
		{ provide: Gateways, useValue: { known: settings.channels?.inbound ?? {} } },
		{
			provide: Readiness,
			useFactory: (store: Store, clock: Clock, queue?: WakeQueue, scheduler?: Scheduler, dispatcher?: Dispatcher) =>
				new Readiness(store, queue, sweeper(scheduler), settings.sweepMs, sender(dispatcher), () => clock.nowMs()),
			inject: [
				Store,
				Clock,
				{ token: WakeQueue, optional: true },
				{ token: Scheduler, optional: true },
				{ token: Dispatcher, optional: true },
			],
		},
	];
}

@Module({})
class ApiModule {}

/**
 * The interface for programs, as a module.
 * @param imports modules that export, each under its own class, Store, Clock, Ids and every service that a controller asks for;
 * and where this process has them, Scheduler and WakeQueue
 */
export function apiModule(settings: ApiSettings, imports: ModuleMetadata["imports"]): DynamicModule {
	const providers = apiProviders(settings);
	return { module: ApiModule, imports: imports ?? [], controllers: [...apiControllers], providers, exports: [Metrics] };
}
