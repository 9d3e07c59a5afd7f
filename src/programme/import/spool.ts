import { createHash } from "node:crypto";
import { createReadStream } from "node:fs";
import { type FileHandle, mkdtemp, open, rm } from "node:fs/promises";
import { join } from "node:path";
import { InputError } from "../../errors/errors.js";
import type { ImportProblem } from "./report.js";
import { Utf8Lines } from "./utf8.js";

export type Source = AsyncIterable<Uint8Array> | string;

/** A file's content, set aside for as long as it is read. */
export interface Spool {
	readonly path: string;
	/** A folder of this import's own, which is removed with it. */
	readonly folder: string;
	/** Of every byte as it came, in hexadecimal. */
	readonly sha256: string;
	/** Why it can't be read as text. */
	readonly problem: ImportProblem | undefined;
	remove(): Promise<void>;
}

/**
 * Sets a file aside on disk, so that it can be hashed before it is read; it holds names and numbers of
 * people, so that nobody but this program's user may read it, and it is removed when the import ends.
 * @param source the bytes, or the path of a file
 * @param parent the folder in which it is set aside
 * @param mostBytes a longer file is refused
 * @throws InputError `too-large` for a longer file, `invalid-input` where there is no file at the path; what the source throws
 */
export async function spooled(source: Source, parent: string, mostBytes: number): Promise<Spool> {
	const folder = await mkdtemp(join(parent, "jarwatch-import-"));
	const remove = () => rm(folder, { recursive: true, force: true });
	try {
		const path = join(folder, "file.csv");
		const file = await open(path, "wx", 0o600);
		try {
			const taken = await copied(typeof source === "string" ? createReadStream(source) : source, file, mostBytes);
			return { path, folder, ...taken, remove };
		} finally {
			await file.close();
		}
	} catch (error) {
		await remove();
		throw typeof source === "string" ? asRefusal(error) : error;
	}
}

async function copied(
	source: AsyncIterable<Uint8Array>,
	file: FileHandle,
	mostBytes: number,
): Promise<Pick<Spool, "sha256" | "problem">> {
	const hash = createHash("sha256");
	const lines = new Utf8Lines();
	let beginning: Buffer = Buffer.alloc(0);
	let bytes = 0;
	for await (const chunk of source) {
		bytes += chunk.byteLength;
		if (bytes > mostBytes)
			throw new InputError(
				"too-large",
				`The file is longer than ${mostBytes} bytes; split it into several, each with the header`,
				{
					status: 413,
				},
			);
		if (beginning.length < 4) beginning = Buffer.concat([beginning, chunk.subarray(0, 4)]);
		const problem = beginning.length >= 2 && looksLikeUtf16(beginning) ? UTF_16 : badLine(lines.firstBadLine(chunk));
		if (problem) return { sha256: "", problem };
		hash.update(chunk);
		await file.writeFile(chunk);
	}
	return { sha256: hash.digest("hex"), problem: badLine(lines.badLineAtEnd()) };
}

/** A byte-order mark of UTF-16 or UTF-32, or every other byte of the first ones zero. */
function looksLikeUtf16(bytes: Buffer): boolean {
	const mark = bytes.readUInt16BE(0);
	return mark === 0xfffe || mark === 0xfeff || bytes[0] === 0 || bytes[1] === 0;
}

const UTF_16: ImportProblem = {
	line: 1,
	column: "",
	value: "",
	message: 'the file is in UTF-16: save it again as "CSV UTF-8"',
};

function badLine(line: number | undefined): ImportProblem | undefined {
	if (line === undefined) return undefined;
	const message = 'holds bytes that aren\'t UTF-8: save the file again as "CSV UTF-8", and look whether every letter is right';
	return { line, column: "", value: "", message };
}

function asRefusal(error: unknown): unknown {
	const { code, syscall } = error as NodeJS.ErrnoException;
	if (code === "ENOSPC" || (syscall !== "open" && syscall !== "read")) return error;
	return new InputError("invalid-input", `The file can't be read (${code}): give the path of a CSV file`, { cause: error });
}
