import { actingAs } from "../../ledger/acting.js";
import { incidentPage } from "../incidents/incident.js";
import { closeIt, noteFound, takeUp } from "../incidents/steps.js";
import { type Page, page, type RolePage } from "../page.js";
import { callerOf } from "../part.js";
import { checksPage, giveHead } from "./checks.js";
import { coveragePage } from "./coverage.js";
import { drawPage, drawSample } from "./draw.js";
import { failuresPage } from "./failures.js";
import type { OfficeParts } from "./parts.js";
import { OFFICE_INCIDENTS } from "./places.js";
import { samplePage } from "./sample.js";
import { trendsPage } from "./trends.js";
import { keepResult, visitPage } from "./visit.js";

const OFFICE = ["health office"] as const;

const sees = (path: string, answer: RolePage["answer"]) => page("GET", path, OFFICE, answer);
/** What somebody does stands in the ledger under her name. */
const does = (path: string, answer: RolePage["answer"]) =>
	page("POST", path, OFFICE, (visit) => actingAs(callerOf(visit).actor, () => answer(visit)));

/** What the health office sees: figures, each with what one needs in order to believe it, within her part of the programme; and what it follows up. */
export function officePages(parts: OfficeParts): readonly Page[] {
	return [
		sees("/office", (visit) => coveragePage(parts, visit)),
		sees("/office/trends", (visit) => trendsPage(parts, visit)),
		sees("/office/failures", (visit) => failuresPage(parts, visit)),
		sees("/office/incidents/:id", (visit) => incidentPage(parts, visit, OFFICE_INCIDENTS)),
		does("/office/incidents/:id/look-into", (visit) => takeUp(parts, visit, OFFICE_INCIDENTS)),
		does("/office/incidents/:id/notes", (visit) => noteFound(parts, visit, OFFICE_INCIDENTS)),
		does("/office/incidents/:id/close", (visit) => closeIt(parts, visit, OFFICE_INCIDENTS)),
		sees("/office/checks", (visit) => checksPage(parts, visit)),
		does("/office/checks/head", (visit) => giveHead(parts, visit)),
		sees("/office/samples", (visit) => drawPage(parts, visit)),
		does("/office/samples", (visit) => drawSample(parts, visit)),
		sees("/office/samples/:id", (visit) => samplePage(parts, visit)),
		sees("/office/samples/:id/visits/:household", (visit) => visitPage(parts, visit)),
		does("/office/samples/:id/visits/:household", (visit) => keepResult(parts, visit)),
	];
}
