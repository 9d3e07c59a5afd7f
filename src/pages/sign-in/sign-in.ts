import { type Html, html } from "../html.js";
import { choiceOf, hasTexts } from "../language.js";
import { ownForm } from "../layout.js";
import { navigationOf } from "../navigation.js";
import { openPage, type Page, type Shown, type Visit } from "../page.js";
import { picture } from "../pictures.js";
import type { Visitor, Visitors } from "../visitors.js";

type Anybody = Visit<Visitor | undefined>;

/** The ways in and out, and the choice of a language. */
export function signInPages(visitors: Visitors): readonly Page[] {
	return [
		openPage("GET", "/", async ({ visitor, request }) => ({
			seeOther: visitor || !request.caller?.roles.includes("administrator") ? startOf(visitor) : "/setting-up",
		})),
		openPage("GET", "/sign-in", async (visit) => (visit.visitor ? { seeOther: startOf(visit.visitor) } : askForNumber(visit))),
		openPage("POST", "/sign-in", async (visit) => {
			const toWhom = field(visit, "to");
			if (toWhom === "") return askForNumber(visit, visit.words("signIn.numberWanted"));
			const asked = await visitors.sendCode(visit.request, toWhom);
			return asked === "asked" ? askForCode(visit, toWhom) : askForNumber(visit, visit.words("signIn.tooMany"));
		}),
		openPage("POST", "/sign-in/code", async (visit) => {
			const { request, reply, words } = visit;
			const toWhom = field(visit, "to");
			const signedIn = await visitors.signIn(request, reply, toWhom, field(visit, "code").replace(/[\s-]/g, ""));
			if (signedIn === "signed in") return { seeOther: "/" };
			if (signedIn === "too many tries") return askForNumber(visit, words("signIn.tooMany"));
			return askForCode(visit, toWhom, words("signIn.wrong"));
		}),
		openPage("POST", "/sign-out", async ({ request, reply, visitor }) => {
			if (visitor || request.caller) await visitors.signOut(request, reply);
			// Whatever this phone kept of her goes with her. Source: W3C Clear Site Data
			void reply.header("clear-site-data", '"cache", "storage"');
			return { seeOther: "/sign-in" };
		}),
		openPage("POST", "/language", async (visit) => {
			const language = field(visit, "language");
			if (hasTexts(language)) void visit.reply.header("set-cookie", choiceOf(language, visit.request.protocol === "https"));
			return { seeOther: placeOf(visit.form.get("from")) };
		}),
	];
}

/** @returns an address of ours; the start where what came in names none, or a place elsewhere */
function placeOf(from: string | null): string {
	return from !== null && /^\/(?![/\\])[\w\-./%~]*$/.test(from) ? from : "/";
}

function startOf(visitor: Visitor | undefined): string {
	return (visitor && navigationOf(visitor.role)[0]?.to) ?? "/sign-in";
}

function field({ form }: Anybody, name: string): string {
	return (form.get(name) ?? "").trim().slice(0, 60);
}

function askForNumber({ words, visitor }: Anybody, wrong?: string): Shown {
	return {
		title: words("signIn.title"),
		main: html`<p class="lead">${picture("phone")}<span>${words("signIn.what")}</span></p>
<form method="post" action="/sign-in">${ownForm(visitor)}
<label for="to">${words("signIn.number")}</label>${problem(wrong)}
<input class="wide" id="to" name="to" type="tel" dir="ltr" autocomplete="tel" maxlength="40" required${wrong && html` aria-invalid="true" aria-describedby="wrong"`}>
<button class="send">${words("signIn.send")}</button></form>
<p><a class="button quiet" href="/sign-in/staff">${words("signIn.withPassword")}</a></p>`,
		...(wrong && { status: 422 }),
	};
}

function askForCode({ words, visitor }: Anybody, toWhom: string, wrong?: string): Shown {
	return {
		title: words("signIn.codeTitle"),
		main: html`<p class="lead">${picture("phone")}<span>${words("signIn.sent")}</span></p>
<form method="post" action="/sign-in/code">${ownForm(visitor)}<input type="hidden" name="to" value="${toWhom}">
<label for="code">${words("signIn.code")}</label>${problem(wrong)}
<input class="wide" id="code" name="code" type="text" dir="ltr" inputmode="numeric" autocomplete="one-time-code" maxlength="12" required autofocus${wrong && html` aria-invalid="true" aria-describedby="wrong"`}>
<button class="send">${words("signIn.enter")}</button></form>
<p><a href="/sign-in">${words("signIn.again")}</a></p>`,
		...(wrong && { status: 422 }),
	};
}

function problem(wrong: string | undefined): Html | undefined {
	return wrong === undefined ? undefined : html`<p class="wrong" id="wrong">${wrong}</p>`;
}
