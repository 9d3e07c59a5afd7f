import { execFileSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

/** A block or a picture in a document, and the command that makes it. */
export interface Example {
	readonly document: string;
	readonly command: string;
	/** What stands in the document, or in the file that it shows. */
	readonly shown: string;
	/** Path of the picture; none for a block of text. */
	readonly file?: string;
}

const BLOCK = /<!-- made by: (.+?) -->\n```text\n([\s\S]*?)```/g;
const PICTURE = /<!-- file made by: (.+? (\.docs\/\S+)) -->/g;

export function documents(root: string): string[] {
	const more = readdirSync(join(root, ".docs")).filter((name) => name.endsWith(".md"));
	return ["README.md", "DEVELOPERS.md", ...more.map((name) => join(".docs", name))];
}

export function examplesIn(root: string, document: string): Example[] {
	const text = readFileSync(join(root, document), "utf8");
	return [
		...[...text.matchAll(BLOCK)].map(([, command = "", shown = ""]) => ({ document, command, shown })),
		...[...text.matchAll(PICTURE)].map(([, command = "", file = ""]) => ({
			document,
			command,
			shown: readFileSync(join(root, file), "utf8"),
			file,
		})),
	];
}

/** Runs an example's command. @returns what it prints, or the picture that it draws */
export function madeBy(root: string, { command, file }: Example): string {
	const folder = mkdtempSync(join(tmpdir(), "jarwatch-example-"));
	const drawn = join(folder, "picture.svg");
	const words = [...command.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain ?? "");
	const [program = "node", ...args] = words.map((word) => (file && word === file ? drawn : word));
	const printed = execFileSync(program === "node" ? process.execPath : program, args, { cwd: root, encoding: "utf8" });
	return file ? readFileSync(drawn, "utf8") : printed;
}
