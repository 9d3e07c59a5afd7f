import { currentPolicy } from "../../programme/policy.js";
import { levelledItems } from "../../stock/items.js";
import { plansOf } from "../../stock/planning.js";
import { DAY_MS } from "../../time/clock.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { inPartOf } from "../part.js";
import { table, tiles } from "../tables.js";
import { personLink } from "./overview.js";
import type { SupervisorParts } from "./parts.js";

interface Collecting {
	readonly code: string;
	readonly name: string;
	readonly generatorCode: string | null;
	readonly wantAtMs: number;
	readonly volumeMl: number;
	readonly outAtMs: number | null;
}

const MOST = 200;

/** What is to be made, collected and got in the coming week. */
export async function planPage({ store }: SupervisorParts, visit: Visit): Promise<Shown> {
	const { words, nowMs } = visit;
	const policy = await currentPolicy(store);
	const untilMs = nowMs + (policy.stock.makeLeadDays + policy.stock.planDays) * DAY_MS;
	const generators = inPartOf(visit, "generator", "g");
	const ids = await store.query<{ id: string }>(
		`SELECT g.id FROM generator g WHERE ${generators.texts.join(" AND ")} ORDER BY g.code LIMIT ${MOST}`,
		generators.parameters,
	);
	const plans = [
		...(
			await plansOf(
				store,
				ids.map(({ id }) => id),
				policy,
				nowMs,
			)
		).values(),
	];
	const made = plans.filter(({ generator }) => generator.inService);
	const sum = (of: (plan: (typeof plans)[number]["plan"]) => number) => made.reduce((total, { plan }) => total + of(plan), 0);
	const shortL = plans
		.filter(({ generator, insteadOf }) => !generator.inService && insteadOf === null)
		.reduce((total, { plan }) => total + plan.litres, 0);
	const collecting = await collectingUntil(store, visit, untilMs);
	const items = await lowItems(store, visit, nowMs);
	const main = html`<p>${words("plan.what", { until: words.day(untilMs) })}</p>
${tiles([
	{
		figure: words("plan.litres", {
			litres: words.number(
				sum(({ litres }) => litres),
				1,
			),
		}),
		words: words("plan.toMake"),
	},
	{
		figure: words("plan.grams", {
			grams: words.number(
				sum(({ saltG }) => saltG),
				0,
			),
		}),
		words: words("plan.salt"),
	},
	{
		figure: words("plan.minutes", {
			minutes: words.number(
				sum(({ minutes }) => minutes),
				0,
			),
		}),
		words: words("plan.runTime"),
	},
	{ figure: words("plan.litres", { litres: words.number(shortL, 1) }), words: words("plan.short"), isBad: shortL > 0 },
])}
<h2>${words("plan.makeTitle")}</h2>
${
	plans.length === 0
		? html`<p>${words("plan.noGenerators")}</p>`
		: table(
				words("plan.make"),
				[
					words("plan.generator"),
					words("plan.runs"),
					words("plan.toMake"),
					words("plan.with"),
					words("plan.by"),
					words("plan.standing"),
					words("plan.wanted"),
				],
				plans.map(({ generator, plan, insteadOf, alsoFor }) => [
					html`<bdi class="code">${generator.code}</bdi>${!generator.inService && html` <strong class="wrong">${insteadOf ? words("plan.insteadBy", { other: insteadOf.code }) : words("plan.outOfService")}</strong>`}${alsoFor.length > 0 && html` ${words("plan.alsoFor", { others: words.list(alsoFor) })}`}`,
					plan.runs === 0 ? words("plan.nothing") : words.number(plan.runs),
					words("plan.litres", { litres: words.number(plan.litres, 1) }),
					words("plan.takes", {
						salt: words.number(plan.saltG, 0),
						water: words.number(plan.waterL, 1),
						minutes: words.number(plan.minutes, 0),
						charge: words.number(plan.chargeAh, 1),
					}),
					plan.runs === 0 ? "–" : words.day(plan.byMs),
					words("plan.litres", { litres: words.number(plan.standingL, 1) }),
					words("plan.litres", { litres: words.number(plan.wantedL + plan.reserveL, 1) }),
				]),
			)
}
<p class="small">${words("plan.care")}</p>
<h2>${words("plan.collectTitle")}</h2>
${
	collecting.length === 0
		? html`<p>${words("plan.nobodyCollects")}</p>`
		: table(
				words("plan.collect"),
				[words("lead.volunteer"), words("plan.on"), words("plan.amount"), words("plan.at"), words("plan.out")],
				collecting.map((one) => [
					personLink(one),
					words.day(Math.max(one.wantAtMs, nowMs)),
					words("plan.litres", { litres: words.number(one.volumeMl / 1000, 2) }),
					one.generatorCode === null
						? html`<strong class="wrong">${words("plan.noPoint")}</strong>`
						: html`<bdi class="code">${one.generatorCode}</bdi>`,
					one.outAtMs === null ? "–" : words.day(one.outAtMs),
				]),
			)
}
<h2>${words("plan.itemsTitle")}</h2>
${
	items.length === 0
		? html`<p>${words("plan.noItems")}</p>`
		: table(
				words("plan.items"),
				[words("stock.item"), words("plan.heldBy"), words("stock.held"), words("plan.orderUpTo"), words("stock.expires")],
				items.map(({ code, kind, unit, held, expiresOn, holderName, levels }) => [
					html`${words("stock.kind", { kind })} <bdi class="code">${code}</bdi>`,
					html`<bdi class="code">${holderName}</bdi>`,
					html`${words.number(held)} ${words("stock.unit", { unit })}`,
					html`${words.number(levels.orderUpTo)} ${words("stock.unit", { unit })}`,
					expiresOn === null ? "–" : words.date(expiresOn),
				]),
			)
}`;
	return { title: words("plan.title"), main, here: "/team/plan" };
}

function collectingUntil(store: SupervisorParts["store"], visit: Visit, untilMs: number): Promise<Collecting[]> {
	const { texts, parameters } = inPartOf(visit, "person", "p");
	return store.query<Collecting>(
		`SELECT p.code, p.name, g.code AS generator_code, w.want_at_ms, w.volume_ml, w.out_at_ms FROM bleach_want w JOIN person p ON p.id = w.volunteer_id
		 LEFT JOIN generator g ON g.id = w.generator_id WHERE w.want_at_ms <= $${parameters.push(untilMs)} AND w.volume_ml > 0 AND ${texts.join(" AND ")}
		 ORDER BY w.want_at_ms, p.code LIMIT ${MOST}`,
		parameters,
	);
}

/** What is at or under the level at which it is to be got, or soon past its day. */
async function lowItems(store: SupervisorParts["store"], visit: Visit, nowMs: number) {
	const { texts, parameters } = inPartOf(visit, "stock item", "i");
	const ids = await store.query<{ id: string }>(
		`SELECT i.id FROM stock_item i WHERE ${texts.join(" AND ")} ORDER BY i.code LIMIT 500`,
		parameters,
	);
	const items = await levelledItems(
		store,
		ids.map(({ id }) => id),
		await currentPolicy(store),
		nowMs,
	);
	return [...items.values()].filter(({ levels }) => levels.dueAtMs !== null && levels.dueAtMs <= nowMs);
}
