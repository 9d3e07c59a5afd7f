import { randomUUID } from "node:crypto";
import type { NestFastifyApplication } from "@nestjs/platform-fastify";
import type { FastifyInstance } from "fastify";
import { Accounts } from "../access/accounts.js";
import { Callers } from "../access/callers.js";
import { newLetters } from "../access/secrets.js";
import { Sessions } from "../access/sessions.js";
import { SignIn } from "../access/sign-in.js";
import { SignInByCode } from "../access/sign-in-by-code.js";
import { Assignments } from "../assignment/assignments.js";
import { Capacities } from "../assignment/capacities.js";
import { Decisions } from "../assignment/decisions.js";
import { Proposals } from "../assignment/proposals.js";
import { Coverage } from "../audit/coverage/coverage.js";
import { FollowUp } from "../audit/incidents/follow-up.js";
import { Incidents } from "../audit/incidents/incidents.js";
import { TimeLine } from "../audit/incidents/time-line.js";
import { SampleFindings } from "../audit/sample/findings.js";
import { AuditResults } from "../audit/sample/results.js";
import { Samples } from "../audit/sample/samples.js";
import { HandOvers } from "../duties/hand-overs.js";
import { DutyKinds } from "../duties/kinds.js";
import { PageAnswers } from "../duties/page-answers.js";
import { Rounds } from "../duties/rounds.js";
import { TaskHands } from "../duties/task-hands.js";
import { Heads } from "../ledger/heads.js";
import type { Log } from "../log/log.js";
import { ChannelCheck } from "../messages/channel-check.js";
import { Importer } from "../programme/import/importer.js";
import type { Settings } from "../settings/settings.js";
import { Batches } from "../stock/batches.js";
import { Calendars } from "../stock/places.js";
import { Store } from "../store/store.js";
import { Clock } from "../time/clock.js";
import { readAssets } from "./assets.js";
import { officePages } from "./office/pages.js";
import type { Page } from "./page.js";
import { addPages } from "./routes.js";
import { SessionVisitors } from "./session-visitors.js";
import { settingUpPages } from "./setting-up/pages.js";
import { signInPages } from "./sign-in/sign-in.js";
import { staffSignInPages } from "./sign-in/staff.js";
import { supervisorPages } from "./supervisor/pages.js";
import { volunteerPages } from "./volunteer/pages.js";

/**
 * Puts the pages beside the interface for programs; to be called after `configureApi`, before the application is initialised.
 * @returns every page
 */
export async function configurePages(
	app: NestFastifyApplication,
	log: Log,
	{ mapTiles }: Partial<Pick<Settings, "mapTiles">> = {},
): Promise<readonly Page[]> {
	const instance = app.getHttpAdapter().getInstance() as unknown as FastifyInstance;
	const [store, kinds, clock] = [app.get(Store), app.get(DutyKinds), app.get(Clock)];
	const visitors = new SessionVisitors(store, clock, app.get(Sessions), app.get(SignInByCode));
	const volunteer = {
		store,
		kinds,
		rounds: app.get(Rounds),
		calendars: app.get(Calendars),
		answers: app.get(PageAnswers),
		newKey: randomUUID,
	};
	const incidents = {
		...{ store, incidents: app.get(Incidents), timeLine: app.get(TimeLine), followUp: app.get(FollowUp) },
	};
	const supervisor = {
		...incidents,
		capacities: app.get(Capacities),
		batches: app.get(Batches),
		assignments: app.get(Assignments),
		proposals: app.get(Proposals),
		decisions: app.get(Decisions),
		handOvers: app.get(HandOvers),
		taskHands: app.get(TaskHands),
		mapTiles,
	};
	const office = {
		...incidents,
		coverage: app.get(Coverage),
		samples: app.get(Samples),
		findings: app.get(SampleFindings),
		results: app.get(AuditResults),
		heads: app.get(Heads),
		mapTiles,
	};
	const [callers, accounts, signIn] = [app.get(Callers), app.get(Accounts), app.get(SignIn)];
	const setUpCode = newLetters(20);
	const settingUp = {
		...{ store, clock, callers, accounts, signIn, setUpCode },
		calendars: app.get(Calendars),
		importer: app.get(Importer),
		kinds: app.get(Importer).kindNames,
		channels: app.get(ChannelCheck),
	};
	if (!(await callers.isAdministrated()))
		log.warn(
			`nobody administers this programme yet: begin at /setting-up, from another machine with the set-up code ${setUpCode}`,
		);
	const pages = [
		...signInPages(visitors),
		...staffSignInPages({ signIn, accounts, clock }),
		...settingUpPages(settingUp),
		...volunteerPages(volunteer),
		...supervisorPages(supervisor),
		...officePages(office),
	];
	addPages(instance, pages, { visitors, assets: await readAssets(), clock, log });
	return pages;
}
