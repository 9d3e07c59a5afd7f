import { type Page, page } from "../page.js";
import { answersPage } from "./answers.js";
import { dosesPage } from "./doses.js";
import type { VolunteerParts } from "./parts.js";
import { stockPage } from "./stock.js";
import { answerTask, taskPage } from "./task.js";
import { todayPage } from "./today.js";

const VOLUNTEER = ["volunteer"] as const;

/** What a volunteer sees and does, on a phone first. */
export function volunteerPages(parts: VolunteerParts): readonly Page[] {
	return [
		page("GET", "/me", VOLUNTEER, (visit) => todayPage(parts, visit)),
		page("GET", "/me/doses", VOLUNTEER, (visit) => dosesPage(parts, visit)),
		page("GET", "/me/stock", VOLUNTEER, (visit) => stockPage(parts, visit)),
		page("GET", "/me/answers", VOLUNTEER, (visit) => answersPage(parts, visit)),
		page("GET", "/me/tasks/:id", VOLUNTEER, (visit) => taskPage(parts, visit)),
		page("POST", "/me/tasks/:id/answer", VOLUNTEER, (visit) => answerTask(parts, visit)),
	];
}
