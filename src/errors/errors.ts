/** Every code that may leave the program; one list, so that no two places spell a code differently. */
export type ErrorCode =
	| "invalid-input"
	| "unknown-area"
	| "unknown-indicator"
	| "unknown-subject"
	| "unknown-task"
	| "unknown-kit"
	| "sample-too-large"
	| "out-of-scale"
	| "time-in-future"
	| "time-before-made"
	| "more-than-held"
	| "task-closed"
	| "not-allowed"
	| "conflict"
	| "key-reused"
	| "import-refused"
	| "settings-refused"
	| "data-key-wrong"
	| "database-newer"
	| "database-unsafe"
	| "database-busy"
	| "disk-full"
	| "notifier-unknown"
	| "notifier-refused"
	| "notifier-unavailable"
	| "queue-unavailable"
	| "no-browser"
	| "too-large"
	| "defect";

/** One thing that was wrong in what came in: where, what, and what would be right. */
export interface Problem {
	/** JSON Pointer (RFC 6901) into the body, or the name of the query parameter, column or setting. */
	readonly at: string;
	readonly message: string;
}

abstract class JarwatchError extends Error {
	constructor(
		readonly code: ErrorCode,
		message: string,
		options?: { cause?: unknown },
	) {
		super(message, options);
		this.name = new.target.name;
	}
}

/** What was asked can't be done as asked; the asker can mend it. Answered with 4xx, never retried, logged as info. */
export class InputError extends JarwatchError {
	readonly problems: readonly Problem[];
	readonly status: 400 | 401 | 403 | 404 | 409 | 412 | 413 | 422 | 428;

	constructor(
		code: ErrorCode,
		message: string,
		options: { problems?: readonly Problem[]; status?: InputError["status"]; cause?: unknown } = {},
	) {
		super(code, message, options);
		this.problems = options.problems ?? [];
		this.status = options.status ?? 422;
	}
}

/** Something outside failed for now. Answered with 503, retried with growing waits, logged as a warning. */
export class TransientError extends JarwatchError {
	readonly retryAfterMs: number | undefined;

	constructor(code: ErrorCode, message: string, options: { retryAfterMs?: number; cause?: unknown } = {}) {
		super(code, message, options);
		this.retryAfterMs = options.retryAfterMs;
	}
}

/** The program itself is wrong. Answered with 500, never retried, logged as an error. */
export class DefectError extends JarwatchError {
	constructor(message: string, options?: { cause?: unknown }) {
		super("defect", message, options);
	}
}
