import type { Accounts } from "../../access/accounts.js";
import type { SignIn } from "../../access/sign-in.js";
import { keepCookies, keepDevice } from "../../api/access/signed-in.js";
import { cookieOf } from "../../api/edge/cookies.js";
import type { Clock } from "../../time/clock.js";
import { html } from "../html.js";
import { hiddenToken } from "../layout.js";
import { openPage, type Page, type Shown, type Visit } from "../page.js";
import { orRefused, type Refused, refusal, told } from "../refused.js";
import type { Visitor } from "../visitors.js";

export interface StaffSignIn {
	readonly signIn: SignIn;
	readonly accounts: Accounts;
	readonly clock: Clock;
}

type Anybody = Visit<Visitor | undefined>;

/** Staff come in by a password and, where an account has one, a second factor. */
export function staffSignInPages(parts: StaffSignIn): readonly Page[] {
	return [
		openPage("GET", "/sign-in/staff", async (visit) => signInPage(visit)),
		openPage("POST", "/sign-in/staff", (visit) => signInStaff(parts, visit)),
		openPage("GET", "/password", async (visit) => passwordPage(visit)),
		openPage("POST", "/sign-in/password", (visit) => choosePassword(parts, visit)),
	];
}

function signInPage(visit: Anybody, refused?: Refused): Shown {
	const { words, request, form, query } = visit;
	return {
		title: words("staff.title"),
		main: html`${refusal(refused, words)}${told(query.has("chosen") ? words("staff.chosen") : undefined)}
<form method="post" action="/sign-in/staff">${hiddenToken(request.formToken)}
<label for="login">${words("staff.login")}</label><input class="wide" type="text" id="login" name="login" dir="ltr" autocomplete="username" maxlength="64" required value="${form.get("login") ?? ""}">
<label for="password">${words("staff.password")}</label><input class="wide" type="password" id="password" name="password" dir="ltr" autocomplete="current-password" maxlength="1024" required>
<label for="code">${words("staff.code")}</label><input class="wide" type="text" id="code" name="code" dir="ltr" autocomplete="one-time-code" maxlength="40">
<button class="send">${words("signIn.enter")}</button></form>
<p><a class="button quiet" href="/password">${words("staff.haveCode")}</a> <a class="button quiet" href="/sign-in">${words("staff.byPhone")}</a></p>`,
		isForStaff: true,
		...(refused && { status: refused.status }),
	};
}

async function signInStaff({ signIn, clock }: StaffSignIn, visit: Anybody) {
	const { form, request, reply, words } = visit;
	const code = (form.get("code") ?? "").trim();
	const signedIn = await signIn.withPassword({
		login: (form.get("login") ?? "").slice(0, 64),
		password: (form.get("password") ?? "").slice(0, 1024),
		...(code && { code: code.slice(0, 40) }),
		address: request.peer,
		device: request.headers["user-agent"],
		deviceSecret: cookieOf(request, "device"),
	});
	if (signedIn.state === "signed in") {
		keepCookies(signedIn, request, reply, clock);
		return { seeOther: "/" };
	}
	const why = { wait: "signIn.tooMany", "code needed": "staff.codeNeeded", wrong: "staff.wrong" } as const;
	return signInPage(visit, { why: words(why[signedIn.state]), status: signedIn.state === "wait" ? 429 : 422 });
}

function passwordPage({ words, request, form }: Anybody, refused?: Refused): Shown {
	return {
		title: words("staff.choose"),
		main: html`${refusal(refused, words)}<p>${words("staff.chooseWhat")}</p>
<form method="post" action="/sign-in/password">${hiddenToken(request.formToken)}
<label for="code">${words("staff.chooseCode")}</label><input class="wide" type="text" id="code" name="code" dir="ltr" autocomplete="one-time-code" maxlength="64" required value="${form.get("code") ?? ""}">
<label for="password">${words("staff.newPassword")}</label><input class="wide" type="password" id="password" name="password" dir="ltr" autocomplete="new-password" minlength="15" maxlength="256" required>
<button class="send">${words("staff.doChoose")}</button></form>`,
		isForStaff: true,
		...(refused && { status: refused.status }),
	};
}

async function choosePassword({ accounts }: StaffSignIn, visit: Anybody) {
	const { form, request, reply, words } = visit;
	const result = await orRefused(() =>
		accounts.choose((form.get("code") ?? "").slice(0, 64), (form.get("password") ?? "").slice(0, 1024), request.peer),
	);
	if ("refused" in result) return passwordPage(visit, result.refused);
	if (result.done.waitMs > 0) return passwordPage(visit, { why: words("signIn.tooMany"), status: 429 });
	if (result.done.deviceSecret) keepDevice(result.done.deviceSecret, request, reply);
	return { seeOther: "/sign-in/staff?chosen=1" };
}
