import { createHash } from "node:crypto";
import { readFile } from "node:fs/promises";
import { type Encoding, encodedOnce } from "./encoded.js";

/** A file that pages load. */
export interface Asset {
	readonly address: string;
	readonly type: string;
	/** What its address names never changes: a changed file has another address. */
	readonly isLasting: boolean;
	readonly bodies: Readonly<Record<Encoding, Buffer>>;
}

/** What every page names. */
export interface Assets {
	/** Stands in the page itself: over 2G a file of its own would cost another third of a second before anything is seen. */
	readonly style: string;
	/** By which the policy of a page allows that style and no other. Source: W3C Content Security Policy Level 3, section 2.3.1 */
	readonly styleHash: string;
	/** For those who lead: a volunteer's phone never loads it. */
	readonly staffStyle: string;
	readonly script: string;
	readonly icon: string;
	readonly all: ReadonlyMap<string, Asset>;
}

const FOLDER = new URL("./assets/", import.meta.url);
const LASTING = {
	"page.css": "text/css; charset=utf-8",
	"staff.css": "text/css; charset=utf-8",
	"page.js": "text/javascript; charset=utf-8",
	"icon.svg": "image/svg+xml",
};

/** The one part of the site that is kept in the phone. */
export const KEPT_SCOPE = "/me";

/** Reads and compresses what pages load, once, at the start. */
export async function readAssets(): Promise<Assets> {
	const all = new Map<string, Asset>();
	const put = async (address: string, type: string, isLasting: boolean, text: string) => {
		all.set(address, { address, type, isLasting, bodies: await encodedOnce(Buffer.from(text)) });
		return address;
	};
	const read = (name: string) => readFile(new URL(name, FOLDER), "utf8");
	const lasting = async (name: keyof typeof LASTING) => {
		const text = await read(name);
		const digest = createHash("sha256").update(text).digest("hex").slice(0, 12);
		return put(`/assets/${name.replace(".", `.${digest}.`)}`, LASTING[name], true, text);
	};
	const style = shortened(await read("page.css"));
	const [script, icon] = [await lasting("page.js"), await lasting("icon.svg")];
	const staffStyle = await lasting("staff.css");
	await put("/manifest.webmanifest", "application/manifest+json", false, JSON.stringify(manifest(icon)));
	const shell = JSON.stringify([script, icon]);
	await put("/worker.js", "text/javascript; charset=utf-8", false, (await read("worker.js")).replace('["SHELL"]', shell));
	const styleHash = `sha256-${createHash("sha256").update(style).digest("base64")}`;
	return { style, styleHash, staffStyle, script, icon, all };
}

/** @returns a style without comments and without white space that says nothing; it holds no quoted text in which either would */
function shortened(style: string): string {
	return style
		.replace(/\/\*[\s\S]*?\*\//g, "")
		.replace(/\s+/g, " ")
		.replace(/ ?([{};,>]) ?/g, "$1")
		.replace(/: /g, ":")
		.trim();
}

/** Source: W3C Web Application Manifest */
const manifest = (icon: string) => ({
	id: KEPT_SCOPE,
	name: "Jarwatch",
	short_name: "Jarwatch",
	start_url: KEPT_SCOPE,
	scope: "/",
	display: "standalone",
	background_color: "#ffffff",
	theme_color: "#00463f",
	icons: [{ src: icon, sizes: "any", type: "image/svg+xml", purpose: "any" }],
});
