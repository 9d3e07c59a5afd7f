import { spawn } from "node:child_process";
import { existsSync } from "node:fs";
import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { TransientError } from "../../errors/errors.js";

/** Where systems keep the browser that prints without a screen. */
const USUAL_PLACES = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const PATIENCE_MS = 60_000;

/** @param given by the settings; where it isn't, the usual places are looked at @returns its path; none where there is no such browser */
export function browserPath(given: string | undefined): string | undefined {
	return given ?? USUAL_PLACES.find((path) => existsSync(path));
}

/**
 * Prints a document that needs nothing beside itself.
 * @param browser path of a Chromium
 * @param atMs instant that the file says it was made at: the same document gives the same bytes
 * @throws TransientError `no-browser` where the browser doesn't print
 */
export async function printedPdf(browser: string, html: string, atMs: number): Promise<Buffer> {
	const folder = await mkdtemp(join(tmpdir(), "jarwatch-report-"));
	try {
		const [page, out] = [join(folder, "report.html"), join(folder, "report.pdf")];
		await writeFile(page, html);
		await printed(browser, [
			...FLAGS,
			...(process.getuid?.() === 0 ? ["--no-sandbox"] : []),
			`--user-data-dir=${join(folder, "profile")}`,
			`--print-to-pdf=${out}`,
			pathToFileURL(page).href,
		]);
		return dated(await readFile(out), atMs);
	} catch (error) {
		if (error instanceof TransientError) throw error;
		throw new TransientError("no-browser", "The browser that prints reports printed nothing; the report is there as HTML.", {
			cause: error,
		});
	} finally {
		await rm(folder, { recursive: true, force: true, maxRetries: 3 });
	}
}

const FLAGS = [
	"--headless=new",
	"--disable-gpu",
	"--disable-background-networking",
	"--disable-extensions",
	"--no-first-run",
	"--no-pdf-header-footer",
	"--disable-dev-shm-usage",
];

function printed(browser: string, args: readonly string[]): Promise<void> {
	return new Promise((resolve, reject) => {
		const child = spawn(browser, args, { stdio: "ignore", timeout: PATIENCE_MS, killSignal: "SIGKILL" });
		child.once("error", reject);
		child.once("exit", (code) => (code === 0 ? resolve() : reject(new Error(`the browser ended with ${code}`))));
	});
}

/** The browser writes the present instant into the file, in places of one length: each is replaced. */
function dated(pdf: Buffer, atMs: number): Buffer {
	const digits = new Date(atMs).toISOString().replace(/\D/g, "").slice(0, 14);
	const text = pdf.toString("latin1").replace(/(\/(?:CreationDate|ModDate) \(D:)\d{14}/g, `$1${digits}`);
	return Buffer.from(text, "latin1");
}
