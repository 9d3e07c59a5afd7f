/** Lines behind which everything is somebody else's: a quote, the signature (RFC 3676, section 4.3), a forwarded head. */
const NOT_HERS = /^(>|-- ?$|-{2,} ?\S.*-{2,}$|_{10,}$)/;

/**
 * What somebody wrote herself in an e-mail, without what she quoted.
 * A quote begins with ">"; the line above it that ends in a colon says whose it is, in whatever language, over two lines at most.
 * @param body plain text
 */
export function ownWords(body: string): string {
	const lines = body.replace(/\r\n?/g, "\n").split("\n");
	const cut = lines.findIndex((line) => NOT_HERS.test(line));
	const own = cut < 0 ? lines : lines.slice(0, cut);
	if (cut >= 0 && lines[cut]?.startsWith(">")) dropAttribution(own);
	return own.join("\n").trim();
}

/** "On Thursday Jarwatch wrote:" isn't hers; mail programs break it where it is long. */
function dropAttribution(lines: string[]): void {
	while (lines.at(-1)?.trim() === "") lines.pop();
	if (!lines.at(-1)?.trimEnd().endsWith(":")) return;
	lines.pop();
	const before = lines.at(-1)?.trim() ?? "";
	if (before !== "" && (/[,<]$/.test(before) || /\b\d{4}\b.*\b\d{1,2}[:.h]\d\d\b/.test(before))) lines.pop();
}
