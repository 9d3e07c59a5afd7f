import { isUtf8 } from "node:buffer";

const NEWLINE = 0x0a;

/** Looks through a file, chunk by chunk, for the first line that isn't UTF-8 (RFC 3629: no halves of surrogate pairs either). */
export class Utf8Lines {
	private line = 1;
	/** The beginning of a character whose end is still to come: at most 3 bytes. */
	private rest: Buffer = Buffer.alloc(0);

	/** @returns the number of the first line that isn't UTF-8, or none so far */
	firstBadLine(chunk: Uint8Array): number | undefined {
		const bytes = Buffer.concat([this.rest, chunk]);
		const whole = bytes.length - cutShort(bytes);
		this.rest = bytes.subarray(whole);
		const sound = isUtf8(bytes.subarray(0, whole));
		for (let from = 0; from < whole; ) {
			const newline = bytes.indexOf(NEWLINE, from);
			const end = newline === -1 || newline >= whole ? whole : newline + 1;
			if (!sound && !isUtf8(bytes.subarray(from, end))) return this.line;
			if (bytes[end - 1] === NEWLINE) this.line++;
			from = end;
		}
		return undefined;
	}

	/** @returns the last line's number where the file ends in the middle of a character */
	badLineAtEnd(): number | undefined {
		return this.rest.length > 0 ? this.line : undefined;
	}
}

/** How many bytes at the end begin a character that is longer than what is there. */
function cutShort(bytes: Buffer): number {
	for (let back = 1; back <= Math.min(3, bytes.length); back++) {
		const byte = bytes[bytes.length - back]!;
		if (byte < 0x80) return 0;
		if (byte >= 0xc0) return back < lengthOfCharacter(byte) ? back : 0;
	}
	return 0;
}

function lengthOfCharacter(firstByte: number): number {
	if (firstByte >= 0xf0) return 4;
	return firstByte >= 0xe0 ? 3 : 2;
}
