import { actingAs } from "../../ledger/acting.js";
import { html } from "../html.js";
import { type Answer, openPage, type Page, type Visit } from "../page.js";
import { callerOf } from "../part.js";
import type { Visitor } from "../visitors.js";
import { firstPage, makeFirst } from "./first.js";
import type { SettingUpParts } from "./parts.js";
import { importFile, loadDemo, stepsPage, tryChannel } from "./steps.js";

type Anybody = Visit<Visitor | undefined>;

/** Setting up without the command line: the administrator, the programme's facts, the channels. */
export function settingUpPages(parts: SettingUpParts): readonly Page[] {
	/** Who administers, and nobody else; what she does stands in the ledger under her name. */
	const administers = (answer: (parts: SettingUpParts, visit: Anybody) => Promise<Answer>) => (visit: Anybody) =>
		asAdministrator(parts, visit, () => answer(parts, visit));
	return [
		openPage("GET", "/setting-up", async (visit) =>
			(await parts.callers.isAdministrated()) ? asAdministrator(parts, visit, () => stepsPage(parts, visit)) : firstPage(visit),
		),
		openPage("POST", "/setting-up/administrator", (visit) => makeFirst(parts, visit)),
		openPage("POST", "/setting-up/demo", administers(loadDemo)),
		{ ...openPage("POST", "/setting-up/import", administers(importFile)), takesFile: true },
		openPage("POST", "/setting-up/channel", administers(tryChannel)),
	];
}

async function asAdministrator({ callers }: SettingUpParts, visit: Anybody, work: () => Promise<Answer>): Promise<Answer> {
	const { request, words, visitor } = visit;
	if (request.caller?.roles.includes("administrator")) return actingAs(callerOf(visit).actor, work);
	if (!visitor) return { seeOther: (await callers.isAdministrated()) ? "/sign-in/staff" : "/setting-up" };
	return { title: words("error.refused"), main: html`<p>${words("error.notYours")}</p>`, status: 403 };
}
