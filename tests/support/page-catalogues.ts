import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";

/** A file of texts. */
export interface CatalogueFile {
	/** Its folder: whose texts they are. */
	readonly of: string;
	readonly language: string;
	readonly review: string;
	readonly texts: Readonly<Record<string, string>>;
}

const FOLDERS = ["pages/texts", "pages/texts/staff", "pages/texts/said", "duties/instructions"] as const;

/** Every file of texts that pages are made of, as it stands. */
export const LANGUAGE_CATALOGUES: readonly CatalogueFile[] = FOLDERS.flatMap((of) => {
	const folder = join(__dirname, "../../src", of);
	return readdirSync(folder)
		.filter((name) => name.endsWith(".json"))
		.map((name) => ({ of, ...(JSON.parse(readFileSync(join(folder, name), "utf8")) as Omit<CatalogueFile, "of">) }));
});
