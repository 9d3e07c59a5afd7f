import type { Indicator } from "../../audit/coverage/indicator.js";
import { TOOLKIT } from "../../audit/coverage/indicators/toolkit.js";
import { FEWEST_READINGS } from "../../audit/coverage/indicators/treated-consistently.js";
import { indicators } from "../../audit/coverage/list.js";
import { CARE_GRACE_HOURS } from "../../audit/coverage/subjects/generators.js";
import type { Policy } from "../../programme/policy.js";
import { guideline } from "../../water/protocol/guideline.js";
import { html } from "../html.js";
import type { PageText } from "../texts.js";
import type { Words } from "../words.js";
import { indicatorName } from "./asked.js";

/** What a figure means, in the visitor's language. */
export interface Defined {
	readonly words: string;
	readonly missing: string;
	readonly source: string;
}

/** The programme's rules that definitions name, as settings name them. */
const RULES: Readonly<Record<string, { readonly rule: keyof Policy | keyof Policy["water"]; readonly other?: keyof Policy }>> = {
	"households-visited-in-time": { rule: "checkIntervalDays" },
	"residual-positive": { rule: "leastAtUseMgPerL" },
	"stock-in-date": { rule: "oldestUseDays" },
	"stock-in-strength": { rule: "usableLimitGPerL", other: "longestRetestDays" },
};

/** The same as the indicator says in English. */
export function definedIn({ code, source }: Pick<Indicator, "code" | "source">, policy: Policy, words: Words): Defined {
	const { water, oldestUseDays, usableLimitGPerL, longestRetestDays } = policy;
	const key = code.replaceAll("-", "");
	const fill = {
		intervalDays: water.checkIntervalDays,
		leastMgPerL: water.leastAtUseMgPerL,
		mostMgPerL: guideline.mostMgPerL,
		whoMgPerL: guideline.leastAtUseMgPerL,
		fewest: FEWEST_READINGS,
		oldestDays: oldestUseDays,
		limitGPerL: usableLimitGPerL,
		testedDays: longestRetestDays,
		graceHours: CARE_GRACE_HOURS,
		toolkit: TOOLKIT,
		...RULES[code],
	};
	const say = (name: string) => words(name as PageText, fill);
	return {
		words: say(`defined.${key}`),
		missing: say(`defined.${key}.missing`),
		source:
			source.kind === "own"
				? words("defined.own", { because: say(`defined.${key}.source`) })
				: words("defined.published", { source: say(`defined.${key}.source`), how: say(`defined.${key}.how`) }),
	};
}

export function definitions(policy: Policy, words: Words) {
	return html`<details class="other"><summary>${words("office.definitions")}</summary>${indicators.map((indicator) => {
		const { words: said, missing, source } = definedIn(indicator, policy, words);
		return html`<h3>${indicatorName(indicator.code, words)}</h3><p>${said}</p><p>${words("defined.nothingSaid", { missing })}</p><p class="small">${source}</p>`;
	})}</details>`;
}
