import { currentPolicy } from "../../programme/policy.js";
import { strengthAhead } from "../../science/outlook.js";
import { heldJars } from "../../stock/holdings.js";
import { reckonStocks } from "../../stock/reckoning.js";
import { isUsable } from "../../stock/restock.js";
import { html } from "../html.js";
import type { Shown, Visit } from "../page.js";
import { picture } from "../pictures.js";
import type { VolunteerParts } from "./parts.js";

interface Item {
	readonly code: string;
	readonly kind: string;
	readonly unit: string;
	readonly held: number;
	readonly expiresOn: string | null;
}

/** What she has: bleach jar by jar, how long it lasts, and what else is in her bag. */
export async function stockPage({ store, calendars }: VolunteerParts, { words, visitor, nowMs }: Visit): Promise<Shown> {
	const { personId } = visitor;
	const policy = await currentPolicy(store);
	const jars = await heldJars(store, "keeper", [personId]);
	const reckoned = (await reckonStocks(store, calendars, [personId], policy, nowMs)).get(personId);
	const items = await store.query<Item>(
		"SELECT code, kind, unit, held, expires_on FROM stock_item WHERE holder_id = $1 ORDER BY kind, code",
		[personId],
	);
	const { usableMl = 0, outAtMs = null, dueAtMs = null, collectMl = 0 } = reckoned?.restock ?? {};
	const point = reckoned?.point?.code ?? "none";
	const byBookMl = jars.reduce((sum, jar) => sum + (isUsable(jar, nowMs, policy) ? jar.heldMl : 0), 0);
	const isLess = Math.round(usableMl) < Math.round(byBookMl);
	const main = html`<dl>
<div><dt>${words("stock.usable")}</dt><dd>${words("stock.ml", { ml: words.number(usableMl, 0) })}</dd>
${isLess && html`<dd class="small">${words("stock.byBook", { ml: words.number(byBookMl, 0) })}</dd>`}</div>
${outAtMs !== null && html`<div><dt>${words("stock.lasts")}</dt><dd>${words.day(outAtMs)}</dd></div>`}
${dueAtMs !== null && html`<div><dt>${words("stock.collect")}</dt><dd>${words("stock.collectWhat", { litres: words.number(collectMl / 1000, 2), on: words.day(Math.max(dueAtMs, nowMs)), point })}</dd></div>`}</dl>
<h2>${words("stock.jars")}</h2>
${jars.length === 0 && html`<p>${words("stock.noJars")}</p>`}
<ul class="list">${jars.map((jar) => {
		const usable = isUsable(jar, nowMs, policy);
		return html`<li><p class="state">${picture(usable ? "jar" : "noDrink")}<span><bdi>${jar.code}</bdi></span></p>
<p>${words("stock.jar", { ml: words.number(jar.heldMl, 0), strength: words.number(strengthAhead(jar.outlook, nowMs).meanGPerL, 1), on: words.day(jar.madeAtMs) })}</p>
<p>${words(usable ? "stock.isUsable" : jar.isDoubted ? "stock.isDoubted" : "stock.isNotUsable")}</p></li>`;
	})}</ul>
${
	items.length > 0 &&
	html`<h2>${words("stock.items")}</h2><div class="scroll"><table><thead><tr><th scope="col">${words("stock.item")}</th><th scope="col">${words("stock.held")}</th><th scope="col">${words("stock.expires")}</th></tr></thead><tbody>${items.map(
		({ code, kind, unit, held, expiresOn }) =>
			html`<tr><td>${words("stock.kind", { kind })} <bdi>${code}</bdi></td><td>${words.number(held)} ${words("stock.unit", { unit })}</td><td>${expiresOn ? words.date(expiresOn) : "–"}</td></tr>`,
	)}</tbody></table></div>`
}`;
	return { title: words("stock.title"), main, here: "/me/stock" };
}
