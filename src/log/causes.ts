/**
 * An error and its causes for the log: name, message and stack only.
 * Database errors carry the statement's parameters, which may be names and numbers of people.
 */
export function causesOf(error: unknown): { name: string; message: string; stack: string | undefined }[] {
	const causes: { name: string; message: string; stack: string | undefined }[] = [];
	for (let cause = error; cause instanceof Error && causes.length < 5; cause = cause.cause)
		causes.push({ name: cause.name, message: cause.message, stack: cause.stack });
	return causes.length > 0 ? causes : [{ name: typeof error, message: "thrown, but not an error", stack: undefined }];
}
