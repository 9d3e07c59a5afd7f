import type { PlaceMark } from "../../charts/place-marks.js";
import { currentPolicy } from "../../programme/policy.js";
import { type Child, html } from "../html.js";
import { ownForm } from "../layout.js";
import { type MapFacts, mapFigure } from "../map-figure.js";
import type { Shown, Visit } from "../page.js";
import { type OwnArea, ownAreas } from "../part.js";
import { type Refused, refusal, told } from "../refused.js";
import { choices, table } from "../tables.js";
import type { Words } from "../words.js";
import { type Home, homesOf } from "./households.js";
import type { SupervisorParts } from "./parts.js";
import { type PersonLoad, peopleLoads } from "./people-load.js";

/** More dots than this say less, and weigh more than a page should. */
const MOST_DRAWN = 1500;
const MOST_LISTED = 100;

/** What the address, or the form that came from it, asks to be shown. */
interface Wanted {
	readonly area: OwnArea | undefined;
	readonly of: string;
	readonly after: string;
}

/** Households and volunteers where they are, and the same as a table, from which households are given to somebody. */
export async function mapPage({ store, mapTiles }: SupervisorParts, visit: Visit, refused?: Refused): Promise<Shown> {
	const { words, visitor, query, form } = visit;
	const policy = await currentPolicy(store);
	const areas = await ownAreas(store, visit);
	const given = form.size > 0 ? form : query;
	const wanted: Wanted = {
		area: areas.find(({ code }) => code === given.get("area")),
		of: (given.get("of") ?? "").slice(0, 64),
		after: (given.get("after") ?? "").slice(0, 64),
	};
	const shown = {
		areaId: wanted.area?.id,
		of: wanted.of === "" || wanted.of === NOBODY ? undefined : wanted.of,
		ofNobody: wanted.of === NOBODY,
	};
	const people = (await peopleLoads(store, visit, policy)).sort((a, b) => (a.code < b.code ? -1 : 1));
	const drawn = await homesOf(store, visit, shown, MOST_DRAWN);
	const listed = await homesOf(store, visit, { ...shown, after: wanted.after || undefined }, MOST_LISTED);
	const notAll = drawn.more ? words("map.notAll", { count: MOST_DRAWN }) : undefined;
	const map = mapFigure(mapOf(drawn.homes, people, words, wanted), words, mapTiles, notAll);
	const done = Number(query.get("done"));
	const main = html`${refusal(refused, words)}${told(Number.isSafeInteger(done) && query.has("done") ? words("map.done", { count: done }) : undefined)}
<form class="filters" method="get" action="/team/map">${choices("area", "area", words("map.area"), areaChoices(areas, words), wanted.area?.code ?? "")}
${choices("of", "of", words("map.of"), ofChoices(people, words), wanted.of)}<button class="quiet">${words("map.show")}</button></form>
${map.figure}
<h2>${words("map.assignTitle")}</h2><p>${words("map.assignWhat")}</p>
<form method="post" action="/team/map">${ownForm(visitor)}<input type="hidden" name="area" value="${wanted.area?.code ?? ""}"><input type="hidden" name="of" value="${wanted.of}"><input type="hidden" name="after" value="${wanted.after}">
${
	listed.homes.length === 0
		? html`<p>${words("map.none")}</p>`
		: html`${table(
				words("map.table"),
				[words("map.household"), words("map.persons"), words("map.areaName"), words("map.with"), words("map.placed")],
				listed.homes.map((home) => homeRow(home, new Set(form.getAll("pick")), words)),
			)}
<div class="give">${choices("to", "to", words("map.to"), toChoices(people, words), form.get("to"))}<button>${words("map.give")}</button></div>`
}</form>
${listed.more && html`<p><a class="button quiet" href="${addressOf({ ...wanted, after: listed.homes.at(-1)?.code ?? "" })}">${words("map.next")}</a></p>`}`;
	return { title: words("map.title"), main, here: "/team/map", ...map.shown, ...(refused && { status: refused.status }) };
}

/** Stands for no volunteer: codes begin with a letter or digit. */
export const NOBODY = "-";

export function addressOf({
	area,
	of,
	after,
}: {
	readonly area?: { readonly code: string } | undefined;
	readonly of: string;
	readonly after: string;
}): string {
	const parameters = new URLSearchParams();
	if (area) parameters.set("area", area.code);
	if (of) parameters.set("of", of);
	if (after) parameters.set("after", after);
	return `/team/map${parameters.size > 0 ? `?${parameters}` : ""}`;
}

/** A household as a form names it: its code, and with whom it was when it was chosen. */
export function pickOf({ code, volunteerCode }: Pick<Home, "code" | "volunteerCode">): string {
	return JSON.stringify([code, volunteerCode]);
}

function homeRow(home: Home, picked: ReadonlySet<string>, words: Words): Child[] {
	const { code, persons, areaCode, volunteerCode, volunteerName, latitudeDeg } = home;
	const pick = pickOf(home);
	return [
		html`<label class="choice"><input type="checkbox" name="pick" value="${pick}"${picked.has(pick) && html` checked`}><bdi class="code">${code}</bdi></label>`,
		words.number(persons),
		html`<bdi>${areaCode}</bdi>`,
		volunteerCode === null
			? html`<strong class="wrong">${words("lead.nobody")}</strong>`
			: html`<a href="/team/people/${encodeURIComponent(volunteerCode)}"><bdi>${volunteerName ?? volunteerCode}</bdi></a>`,
		words(latitudeDeg === null ? "map.noPlace" : "map.onMap"),
	];
}

function mapOf(homes: readonly Home[], people: readonly PersonLoad[], words: Words, { of }: Wanted): MapFacts {
	const placed = homes.flatMap((home) =>
		home.latitudeDeg === null || home.longitudeDeg === null
			? []
			: [{ ...home, latitudeDeg: home.latitudeDeg, longitudeDeg: home.longitudeDeg }],
	);
	const seen = new Set(placed.map(({ volunteerCode }) => volunteerCode));
	const who = people.filter(({ code, isActive }) => (of === "" || of === NOBODY ? isActive : seen.has(code) || code === of));
	const places = new Map(who.map((person) => [person.code, person]));
	const marks: PlaceMark[] = [
		...placed.map(
			({ latitudeDeg, longitudeDeg, volunteerCode }): PlaceMark => ({
				latitudeDeg,
				longitudeDeg,
				kind: volunteerCode === null ? "alone" : "home",
			}),
		),
		...who.map(({ latitudeDeg, longitudeDeg, code }): PlaceMark => ({ latitudeDeg, longitudeDeg, kind: "person", label: code })),
	];
	return {
		title: words("map.drawn"),
		description: words("map.description", {
			households: placed.length,
			alone: placed.filter(({ volunteerCode }) => volunteerCode === null).length,
			volunteers: who.length,
		}),
		marks,
		ties: placed.flatMap((home) => {
			const person = places.get(home.volunteerCode ?? "");
			return person ? [[person, home] as const] : [];
		}),
		legend: [
			{ kind: "home", words: words("map.home") },
			{ kind: "person", words: words("map.person") },
			{ kind: "alone", words: words("map.alone") },
		],
	};
}

function areaChoices(areas: readonly OwnArea[], words: Words) {
	return [
		{ value: "", words: words("map.everywhere") },
		...areas.map(({ code, name }) => ({ value: code, words: words("lead.named", { name, code }) })),
	];
}

function ofChoices(people: readonly PersonLoad[], words: Words) {
	return [
		{ value: "", words: words("map.all") },
		{ value: NOBODY, words: words("lead.nobody") },
		...people.map(({ code, name }) => ({ value: code, words: words("lead.named", { name, code }) })),
	];
}

function toChoices(people: readonly PersonLoad[], words: Words) {
	return [
		...people
			.filter(({ isActive }) => isActive)
			.map(({ code, name, households, mostHouseholds }) => ({
				value: code,
				words: words("map.candidate", { who: words("lead.named", { name, code }), households, most: mostHouseholds }),
			})),
		{ value: NOBODY, words: words("map.toNobody") },
	];
}
