import { type Assets, KEPT_SCOPE } from "./assets.js";
import { type Child, Html, html } from "./html.js";
import { navigationOf } from "./navigation.js";
import type { Shown } from "./page.js";
import { picture, pictureSheet } from "./pictures.js";
import { LANGUAGE_NAMES } from "./texts.js";
import type { Visitor } from "./visitors.js";
import type { Words } from "./words.js";

/** What a page is asked with and made of beside its words. */
export interface Round {
	readonly formToken: string | null;
	/** The address to which a choice of language leads back. */
	readonly here: string;
	readonly assets: Assets;
}

/** A whole page, with what is round it: the way about, the language, the way out. */
export function wholePage(shown: Shown, words: Words, visitor: Visitor | undefined, round: Round): Html {
	const { formToken, assets } = round;
	const { title, main, here } = shown;
	const isKept = visitor?.role === "volunteer";
	const isOfStaff = shown.isForStaff ?? (visitor !== undefined && !isKept);
	const body = html`<a class="skip" href="#main">${words("page.skip")}</a>
<header class="top"><a class="mark" href="/">${picture("jar")}<span>Jarwatch</span></a>${visitor && html`<span class="who">${visitor.name}</span>`}</header>
<p id="line" role="status" hidden data-offline="${words("offline.now")}"></p>
<main id="main" tabindex="-1"><h1>${title}</h1>
${main}</main>
${visitor && navigation(words, visitor, here)}
<footer>${languages(words, round)}${formToken !== null && wayOut(words, formToken)}
<p class="small">${words("page.authority")}</p></footer>`;
	return html`<!doctype html>
<html lang="${words.language}" dir="${words.direction}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title} · Jarwatch</title>
<style>${new Html(assets.style)}</style>
${isOfStaff && html`<link rel="stylesheet" href="${assets.staffStyle}">`}
<meta name="theme-color" content="#00463f">
<link rel="icon" type="image/svg+xml" href="${assets.icon}">
${isKept && html`<link rel="manifest" href="/manifest.webmanifest" crossorigin="use-credentials">`}
<script src="${assets.script}" defer fetchpriority="low"></script>
</head>
<body${isKept && html` data-person="${visitor.personId}" data-keeps="${KEPT_SCOPE}"`}>
${pictureSheet(body)}${body}
</body>
</html>
`;
}

function navigation(words: Words, visitor: Visitor, here: string | undefined): Html {
	return html`<nav class="ways" aria-label="${words("page.ways")}"><ul>${navigationOf(visitor.role).map(
		({ to, name, picture: drawn }) =>
			html`<li><a href="${to}"${to === here && html` aria-current="page"`}>${drawn && picture(drawn)}<span>${words(name)}</span></a></li>`,
	)}</ul></nav>`;
}

/** Each language by its own name, so that it is found by whoever speaks no other. */
function languages(words: Words, { formToken, here }: Round): Html {
	const spoken = words.language.split("-", 1)[0];
	return html`<form class="languages" method="post" action="/language">${hiddenToken(formToken)}<input type="hidden" name="from" value="${here}">
<label for="language">${words("page.language")}</label>
<select id="language" name="language">${Object.entries(LANGUAGE_NAMES).map(
		([tag, name]) => html`<option value="${tag}" lang="${tag}"${tag === spoken && html` selected`}>${name}</option>`,
	)}</select>
<button class="quiet">${words("page.change")}</button></form>`;
}

function wayOut(words: Words, formToken: string): Html {
	return html`<form method="post" action="/sign-out" data-leaving="${words("offline.leaving")}">${hiddenToken(formToken)}
<button class="quiet">${words("page.signOut")}</button></form>`;
}

/** What every form bears, so that no other site can send it in her name. */
export function ownForm(visitor: Visitor | undefined): Child {
	return visitor && html`<input type="hidden" name="token" value="${visitor.formToken}">`;
}

/** The same for whoever is signed in and needn't be among the programme's people. */
export function hiddenToken(formToken: string | null): Child {
	return formToken !== null && html`<input type="hidden" name="token" value="${formToken}">`;
}
