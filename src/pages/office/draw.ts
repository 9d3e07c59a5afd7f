import type { z } from "zod";
import { wantedSample } from "../../api/audit/sample-schemas.js";
import { InputError } from "../../errors/errors.js";
import { type Faults, NO_FAULTS, numberIn } from "../fields.js";
import { type Child, html } from "../html.js";
import type { Answer, Shown, Visit } from "../page.js";
import { inPartOf, isWithin, ownAreas, within } from "../part.js";
import { type Refused, refusal, refusedBy } from "../refused.js";
import { toldAgain } from "../said.js";
import type { PageText } from "../texts.js";
import { drawForm, type Visitable } from "./draw-form.js";
import type { OfficeParts } from "./parts.js";

const MOST_PEOPLE = 60;

/** A form to draw a sample of households that others than their volunteers visit. */
export async function drawPage(
	{ store }: OfficeParts,
	visit: Visit,
	faults: Faults = NO_FAULTS,
	refused?: Refused,
): Promise<Shown> {
	const { words } = visit;
	const people = inPartOf(visit, "person", "p");
	const leading = await store.query<Visitable>(
		`SELECT p.code, p.name FROM person p WHERE p.role <> 'volunteer' AND p.active AND ${people.texts.join(" AND ")} ORDER BY p.code LIMIT ${MOST_PEOPLE}`,
		people.parameters,
	);
	const main = html`${refusal(refused, words)}${faults.size > 0 && html`<div class="stop" role="alert"><p><strong>${words("draw.wrong", { count: faults.size })}</strong></p></div>`}
<p>${words("draw.what")}</p>${drawForm(visit, await ownAreas(store, visit), leading, faults)}`;
	const status = refused?.status ?? (faults.size > 0 ? 422 : undefined);
	return { title: words("draw.title"), main, here: "/office/checks", ...(status && { status }) };
}

/** Draws by the same rules as the interface for programs; what isn't right is told at its field, and nothing is drawn. */
export async function drawSample(parts: OfficeParts, visit: Visit): Promise<Answer> {
	const { store, samples } = parts;
	const { form } = visit;
	await within(store, visit, "area", form.get("area") ?? "");
	const wanted = wantedIn(form);
	const parsed = wantedSample.safeParse(wanted);
	const faults = new Map<string, Child>(parsed.success ? [] : parsed.error.issues.map((issue) => faultOfIssue(issue, visit)));
	for (const code of wanted.auditorCodes)
		if (!(await isWithin(store, visit, "person", code))) faults.set("others", visit.words("draw.unknownPerson", { code }));
	if (!parsed.success || faults.size > 0) return drawPage(parts, visit, faults);
	try {
		return { seeOther: `/office/samples/${await samples.draw(parsed.data)}?is=drawn` };
	} catch (error) {
		if (!(error instanceof InputError) || error.status === 404) throw error;
		const at = refusedFaults(error, visit);
		return at.size > 0 ? drawPage(parts, visit, at) : drawPage(parts, visit, NO_FAULTS, refusedBy(error));
	}
}

/** @returns what the form asks for, as the interface for programs takes it; a field that was left empty is left out */
function wantedIn(form: URLSearchParams) {
	const share = (name: string) => {
		const percent = numberIn(form, name);
		return percent === undefined ? undefined : Math.round(percent * 1e6) / 1e8;
	};
	const aim = form.get("aim");
	const aims =
		aim === "classify"
			? {
					kind: aim,
					targetShare: share("target"),
					lowerShare: share("lower"),
					maximumAlpha: share("alpha"),
					maximumBeta: share("beta"),
				}
			: aim === "estimate"
				? { kind: aim, halfWidth: share("halfWidth"), expectedShare: share("expected"), confidence: share("confidence") }
				: { kind: aim, households: numberIn(form, "households") };
	const method =
		form.get("method") === "two stage"
			? { kind: "two stage", perCluster: numberIn(form, "perCluster"), intraclassCorrelation: numberIn(form, "correlation") }
			: { kind: "simple" };
	const text = (name: string) => (form.get(name) ?? "").trim() || undefined;
	const others = (form.get("others") ?? "").split(/[\s,;]+/).filter((code) => code !== "");
	const auditorCodes = [...new Set([...form.getAll("auditor"), ...others])];
	return {
		...{ areaCode: form.get("area") ?? "", aims, method, auditorCodes },
		...{ seed: text("seed"), reportedFrom: text("from"), reportedTo: text("to") },
	};
}

/** The field of the form that each field of the interface is written in; shares are written in per cent. */
const FIELD_OF: Readonly<Record<string, string>> = {
	areaCode: "area",
	"aims.targetShare": "target",
	"aims.lowerShare": "lower",
	"aims.maximumAlpha": "alpha",
	"aims.maximumBeta": "beta",
	"aims.halfWidth": "halfWidth",
	"aims.expectedShare": "expected",
	"aims.confidence": "confidence",
	"aims.households": "households",
	"aims.kind": "aim",
	"method.perCluster": "perCluster",
	"method.intraclassCorrelation": "correlation",
	seed: "seed",
	auditorCodes: "auditors",
	reportedFrom: "from",
	reportedTo: "to",
};
const IN_PER_CENT = new Set(["target", "lower", "alpha", "beta", "halfWidth", "expected", "confidence"]);

function faultOfIssue(issue: z.core.$ZodIssue, { words }: Visit): [string, Child] {
	const name = FIELD_OF[issue.path.join(".")] ?? "aim";
	const told = (value: unknown) => words.number(Number(value) * (IN_PER_CENT.has(name) ? 100 : 1), 3);
	if (name === "auditors") return [name, words("draw.noAuditor")];
	if (name === "seed") return [name, words("draw.noSeed")];
	if (name === "from" || name === "to") return [name, words("draw.noDay")];
	if (issue.code === "too_small") return [name, words("draw.atLeast", { least: told(issue.minimum) })];
	if (issue.code === "too_big") return [name, words("draw.atMost", { most: told(issue.maximum) })];
	if (issue.code === "custom" && name === "lower") return [name, words("draw.lowerFirst")];
	return [name, words("draw.notNumber")];
}

/** What a service refused, at the field that it names: what it is in the visitor's language, and the figures as the service says them. */
function refusedFaults(error: InputError, { form, words }: Visit): Faults {
	const wide = { classify: "target", estimate: "halfWidth" }[form.get("aim") ?? ""] ?? "households";
	return new Map(
		error.problems.flatMap(({ at }): [string, Child][] => {
			const name = at === "/areaCode" ? "area" : at === "/aims" ? wide : at.startsWith("/auditorCodes") ? "auditors" : at;
			const gist = GISTS[`${error.code} ${at === "from" || at === "to" ? "days" : name === "auditors" ? name : "size"}`];
			return gist ? [[name, html`${words(gist)} ${toldAgain(error.message, words)}`]] : [];
		}),
	);
}

const GISTS: Readonly<Record<string, PageText>> = {
	"sample-too-large size": "draw.tooLarge",
	"invalid-input size": "draw.noneKeeps",
	"invalid-input auditors": "draw.ownHousehold",
	"invalid-input days": "draw.endsFirst",
	"time-in-future days": "draw.ahead",
};
