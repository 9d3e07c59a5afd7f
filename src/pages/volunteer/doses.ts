import { type Measure, nearestMeasured } from "../../science/measures.js";
import { type Html, html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { picture } from "../pictures.js";
import type { PageText } from "../texts.js";
import type { Words } from "../words.js";
import { type DoseLine, type JarDoses, jarDosesOf } from "./dose-facts.js";
import type { VolunteerParts } from "./parts.js";
import { syringeDrawing } from "./syringe.js";

/** Today's doses from each jar that she keeps, for every container that she looks after. */
export async function dosesPage(parts: VolunteerParts, { words, visitor, nowMs }: Visit): Promise<Shown> {
	const all = await jarDosesOf(parts, visitor.personId, nowMs);
	const main = html`<p>${words.day(nowMs)}</p>
${all.length === 0 && html`<p class="kept">${words("doses.noJar")}</p>`}
${all.map((one) => jarCard(one, words))}
${
	all.length > 0 &&
	html`<div class="careful"><h2>${words("doses.how")}</h2><ul class="cautions">
<li>${picture("fill")}<span>${words("doses.how.full")}</span></li>
<li>${picture("stir")}<span>${words("doses.how.stir")}</span></li>
<li>${picture("noDrink")}<span>${words("doses.how.turbid")}</span></li>
<li>${picture("noAcid")}<span>${words("doses.how.mix")}</span></li></ul></div>`
}`;
	return { title: words("doses.title"), main, here: "/me/doses" };
}

function jarCard({ jar, lines, isUsable, usableLimitGPerL, measure }: JarDoses, words: Words): Html {
	const { medianGPerL, lowGPerL, highGPerL } = jar.strength;
	const strength = words("doses.strength", {
		strength: words.number(medianGPerL, 1),
		low: words.number(lowGPerL, 1),
		high: words.number(highGPerL, 1),
	});
	return html`<section><h2 class="lead">${picture("jar")}<span>${words("doses.jar", { jar: jar.code })}</span></h2><p>${strength}</p>
${jar.contradicted && html`<p class="stop">${words("doses.contradicted")}</p>`}
${!isUsable && html`<p class="stop">${words("doses.tooWeak", { limit: words.number(usableLimitGPerL, 1) })}</p>`}
${isUsable && !jar.contradicted && html`<ul class="doses">${lines.map((line) => doseCard(line, measure, words))}</ul>`}</section>`;
}

const WATERS = { clear: "water.clear", cloudy: "water.cloudy", "very turbid": "water.veryTurbid" } as const satisfies Record<
	string,
	PageText
>;

function doseCard({ volumeL, turbidity, answer, households }: DoseLine, measure: Measure, words: Words): Html {
	const heading = html`<h3>${picture(turbidity === "clear" ? "clear" : "cloudy")}<span>${words("doses.of", { litres: words.number(volumeL, 1), water: words(WATERS[turbidity]) })}</span></h3>`;
	const whose = html`<p class="small">${households.length > 0 ? words("doses.for", { households: households.join(", ") }) : words("doses.forNobody")}</p>`;
	if (answer.kind !== "dose" && answer.kind !== "doseThenCheck")
		return html`<li class="dose">${heading}<p class="wrong">${words(whyNot(answer))}</p>${whose}</li>`;
	const { volumeMl, contactMinutes, useWithinHours } = answer;
	return html`<li class="dose">${heading}<p class="amount">${words("doses.ml", { ml: words.number(volumeMl, 1) })}</p>
${measuredIn(volumeMl, measure, words)}
<p class="measures">${picture("wait")}<span>${words("doses.wait", { minutes: contactMinutes })}</span></p>
<p class="measures">${picture("drink")}<span>${answer.kind === "doseThenCheck" ? words("doses.checkFirst") : useWithinHours === null ? "" : words("doses.within", { hours: useWithinHours })}</span></p>${whose}</li>`;
}

function whyNot(answer: DoseLine["answer"]): PageText {
	if (answer.kind === "treatFirst") return "doses.treatFirst";
	if (answer.kind === "retestFirst") return "doses.testFirst";
	if (answer.kind !== "refused") return "doses.testFirst";
	return answer.reason === "tooTurbid"
		? "doses.treatFirst"
		: answer.reason === "measureTooCoarse"
			? "doses.finer"
			: "doses.testFirst";
}

/** Bottle caps hold about 5 mL and tell the dose to whoever has no syringe; a cap isn't a measure that a dose is held to. Common practice, no source. */
const CAP_ML = 5;

/** The volume as the programme's measure shows it, drawn, and in bottle caps beside it. */
function measuredIn(volumeMl: number, measure: Measure, words: Words): Html {
	const { fills, lastFillMl, units } = nearestMeasured(volumeMl, measure);
	if (measure.kind !== "syringe")
		return html`<p class="measures">${picture(measure.kind)}<span>${words(measure.kind === "cap" ? "doses.caps" : "doses.spoons", { count: units, ml: words.number(measure.volumeMl, 1) })}</span></p>`;
	const { capacityMl } = measure;
	const said =
		fills === 1
			? words("doses.syringe", { ml: words.number(lastFillMl, 2) })
			: words("doses.syringes", { full: fills - 1, capacity: words.number(capacityMl, 1), ml: words.number(lastFillMl, 2) });
	const caps = volumeMl / CAP_ML;
	return html`${syringeDrawing(capacityMl, lastFillMl, said)}<p class="measures">${picture("syringe")}<span>${said}</span></p>
${Math.abs(caps - Math.round(caps * 2) / 2) < 0.05 && html`<p class="measures">${picture("cap")}<span>${words("doses.orCaps", { caps: words.number(caps, 1), ml: CAP_ML })}</span></p>`}`;
}
