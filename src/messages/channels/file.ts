import { type FileHandle, mkdir, open } from "node:fs/promises";
import { dirname } from "node:path";
import { type Delivery, Notifier, type Outgoing } from "../notifier.js";

interface Line {
	readonly text: string;
	readonly kept: () => void;
	readonly lost: (error: unknown) => void;
}

/**
 * Appends every message to a file, one JSON object a line, and answers once the disk has it: for an audit, or for a modem that reads the file.
 * The file holds names and numbers: it is made readable for its owner alone.
 */
export class FileNotifier extends Notifier {
	readonly name = "file";
	private file: FileHandle | undefined;
	private waiting: Line[] = [];
	private writing: Promise<void> | undefined;

	constructor(private readonly path: string) {
		super();
	}

	send(message: Outgoing): Promise<Delivery> {
		const { attemptedAtMs, messageId, idempotencyKey, taskId, urgent, language, recipient, text } = message;
		const at = new Date(attemptedAtMs).toISOString();
		const line = JSON.stringify({ at, messageId, idempotencyKey, taskId, urgent, language, recipient, text });
		return new Promise((resolve, reject) => {
			this.waiting.push({ text: `${line}\n`, kept: () => resolve({ kind: "accepted", answer: "written" }), lost: reject });
			this.writing ??= this.writeWaiting();
		});
	}

	/** Lines that come while the disk is busy go together into its next turn: one fsync serves them all. */
	private async writeWaiting(): Promise<void> {
		await Promise.resolve();
		while (this.waiting.length > 0) {
			const lines = this.waiting;
			this.waiting = [];
			try {
				this.file ??= await opened(this.path);
				await this.file.appendFile(lines.map((line) => line.text).join(""));
				await this.file.datasync();
				for (const line of lines) line.kept();
			} catch (error) {
				// The end of the file may be half a line now: the next turn opens it anew and looks.
				await this.file?.close().catch(() => undefined);
				this.file = undefined;
				for (const line of lines) line.lost(error);
			}
		}
		this.writing = undefined;
	}

	override async close(): Promise<void> {
		await this.writing;
		await this.file?.close();
		this.file = undefined;
	}
}

async function opened(path: string): Promise<FileHandle> {
	await mkdir(dirname(path), { recursive: true });
	const file = await open(path, "a+", 0o600);
	const { size } = await file.stat();
	if (size === 0) return file;
	// A crash may have left half a line: what follows mustn't be glued to it.
	const { buffer } = await file.read({ buffer: Buffer.alloc(1), position: size - 1 });
	if (buffer[0] !== 0x0a) await file.appendFile("\n");
	return file;
}
