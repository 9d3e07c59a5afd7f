import { actingAs } from "../../ledger/acting.js";
import { type IncidentPlace, incidentPage } from "../incidents/incident.js";
import { incidentsPage } from "../incidents/list.js";
import { closeIt, noteFound, takeUp } from "../incidents/steps.js";
import { type Page, page, type RolePage } from "../page.js";
import { callerOf } from "../part.js";
import { assignChosen } from "./assign.js";
import { changeCapacity } from "./capacity.js";
import { jarPage } from "./jar.js";
import { jarsPage } from "./jars.js";
import { mapPage } from "./map.js";
import { overviewPage, seeTo } from "./overview.js";
import type { SupervisorParts } from "./parts.js";
import { comeBack, leave, personPage } from "./person.js";
import { planPage } from "./plan.js";
import { accept, changeLine, proposalPage, reject } from "./proposal.js";
import { askForProposal, proposalsPage } from "./proposals.js";

const SUPERVISOR = ["supervisor"] as const;

const TEAM_INCIDENTS: IncidentPlace = { path: "/team/incidents", here: "/team" };

const sees = (path: string, answer: RolePage["answer"]) => page("GET", path, SUPERVISOR, answer);
/** What she does stands in the ledger under her name. */
const does = (path: string, answer: RolePage["answer"]) =>
	page("POST", path, SUPERVISOR, (visit) => actingAs(callerOf(visit).actor, () => answer(visit)));

/** What a supervisor sees and does, each within her part of the programme. */
export function supervisorPages(parts: SupervisorParts): readonly Page[] {
	return [
		sees("/team", (visit) => overviewPage(parts, visit)),
		does("/team/tasks/:id/seen", (visit) => seeTo(parts, visit)),
		sees("/team/map", (visit) => mapPage(parts, visit)),
		does("/team/map", (visit) => assignChosen(parts, visit)),
		sees("/team/people/:code", (visit) => personPage(parts, visit)),
		does("/team/people/:code/leave", (visit) => leave(parts, visit)),
		does("/team/people/:code/return", (visit) => comeBack(parts, visit)),
		does("/team/people/:code/capacity", (visit) => changeCapacity(parts, visit)),
		sees("/team/proposals", (visit) => proposalsPage(parts, visit)),
		does("/team/proposals", (visit) => askForProposal(parts, visit)),
		sees("/team/proposals/:id", (visit) => proposalPage(parts, visit)),
		does("/team/proposals/:id/accept", (visit) => accept(parts, visit)),
		does("/team/proposals/:id/reject", (visit) => reject(parts, visit)),
		does("/team/proposals/:id/lines", (visit) => changeLine(parts, visit)),
		sees("/team/incidents", (visit) => incidentsPage(parts, visit, TEAM_INCIDENTS)),
		sees("/team/incidents/:id", (visit) => incidentPage(parts, visit, TEAM_INCIDENTS)),
		does("/team/incidents/:id/look-into", (visit) => takeUp(parts, visit, TEAM_INCIDENTS)),
		does("/team/incidents/:id/notes", (visit) => noteFound(parts, visit, TEAM_INCIDENTS)),
		does("/team/incidents/:id/close", (visit) => closeIt(parts, visit, TEAM_INCIDENTS)),
		sees("/team/plan", (visit) => planPage(parts, visit)),
		sees("/team/jars", (visit) => jarsPage(parts, visit)),
		sees("/team/jars/:code", (visit) => jarPage(parts, visit)),
	];
}
