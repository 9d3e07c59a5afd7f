import { readdirSync, readFileSync } from "node:fs";
import { join, relative } from "node:path";

const SOURCE = join(__dirname, "../../../src");

/** @returns the lines of the source that match, as `file:line`, comments aside */
export function linesInSource(pattern: RegExp): string[] {
	const files = readdirSync(SOURCE, { recursive: true, withFileTypes: true })
		.filter((entry) => entry.isFile() && entry.name.endsWith(".ts"))
		.map((entry) => join(entry.parentPath, entry.name));
	return files.flatMap((path) => {
		const name = relative(SOURCE, path).replace(/\.ts$/, "");
		return readFileSync(path, "utf8")
			.split("\n")
			.flatMap((line, i) => (pattern.test(line) && !/^\s*(\/\/|\*|\/\*)/.test(line) ? [`${name}:${i + 1}`] : []));
	});
}

/** Where a unit of work begins: each has a point before it, before its commit and after it. */
export const unitsInSource = (): string[] => linesInSource(/\bwork\.(run|single)[<(]/);
