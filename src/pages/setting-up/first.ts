import { accountCalled } from "../../access/account.js";
import { assertGoodPassword } from "../../access/passwords.js";
import { keepCookies } from "../../api/access/signed-in.js";
import { isThisMachine } from "../../api/edge/cookies.js";
import { InputError } from "../../errors/errors.js";
import { isSame } from "../../messages/inbound/proof.js";
import { html } from "../html.js";
import { hiddenToken } from "../layout.js";
import type { Answer, Shown, Visit } from "../page.js";
import { orRefused, type Refused, refusal } from "../refused.js";
import type { Visitor } from "../visitors.js";
import type { SettingUpParts } from "./parts.js";

type Anybody = Visit<Visitor | undefined>;

/** Nobody administers the programme yet: whoever sits at the machine, or reads its log, makes the first account. */
export function firstPage({ words, request, form }: Anybody, refused?: Refused): Shown {
	const main = html`${refusal(refused, words)}<p>${words("setUp.firstWhat")}</p>
<form method="post" action="/setting-up/administrator">${hiddenToken(request.formToken)}
${!isThisMachine(request) && html`<label for="key">${words("setUp.key")}</label><input class="wide" type="text" id="key" name="key" dir="ltr" autocomplete="off" maxlength="64" required value="${form.get("key") ?? ""}">`}
<label for="login">${words("staff.login")}</label><input class="wide" type="text" id="login" name="login" dir="ltr" autocomplete="username" minlength="2" maxlength="40" required value="${form.get("login") ?? ""}">
<label for="password">${words("staff.newPassword")}</label><input class="wide" type="password" id="password" name="password" dir="ltr" autocomplete="new-password" minlength="15" maxlength="256" required>
<button class="send">${words("setUp.begin")}</button></form>`;
	return { title: words("setUp.first"), main, isForStaff: true, ...(refused && { status: refused.status }) };
}

/** Makes the first administrator, and signs her in. From then on this machine by itself is trusted no more. */
export async function makeFirst(parts: SettingUpParts, visit: Anybody): Promise<Answer> {
	const { form, request, reply, words } = visit;
	if (await parts.callers.isAdministrated()) return { seeOther: "/sign-in/staff" };
	if (!isThisMachine(request) && !isSame((form.get("key") ?? "").trim().toUpperCase(), parts.setUpCode))
		return firstPage(visit, { why: words("setUp.wrongKey"), status: 403 });
	const login = (form.get("login") ?? "").trim();
	const password = form.get("password") ?? "";
	const result = await orRefused(() => firstAccount(parts, login, password, request.peer));
	if ("refused" in result) return firstPage(visit, result.refused);
	const signedIn = await parts.signIn.withPassword({
		login,
		password,
		address: request.peer,
		device: request.headers["user-agent"],
	});
	if (signedIn.state !== "signed in") return { seeOther: "/sign-in/staff" };
	keepCookies(signedIn, request, reply, parts.clock);
	return { seeOther: "/setting-up" };
}

async function firstAccount({ store, accounts }: SettingUpParts, login: string, password: string, peer: string): Promise<void> {
	// Looked at before anything is made: a login that was made in vain would be taken.
	await assertGoodPassword(password, "password", [login]);
	const known = await accountCalled(store, login.toLowerCase());
	if (known && !known.administrator)
		throw new InputError("conflict", "This name is taken by somebody who is no administrator.", { status: 409 });
	const code = known
		? await accounts.newLink(known.id, "setting up")
		: (await accounts.create({ login, personId: null, administrator: true }, "setting up")).code;
	if (code !== null) await accounts.choose(code, password, peer);
}
