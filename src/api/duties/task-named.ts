import { WITH_CODE } from "../../duties/code-of-task.js";
import { InputError } from "../../errors/errors.js";
import type { Store } from "../../store/store.js";

/**
 * The open task of a code; where none is open, the last one that was: a code is used again once its task is closed.
 * @param taskCode as somebody typed it, capitals or not
 * @throws InputError `unknown-task` (404)
 */
export async function taskNamed(store: Store, taskCode: string): Promise<{ id: string; code: string; state: string }> {
	const [task] = await store.query<{ id: string; code: string; state: string }>(`SELECT id, code, state FROM task ${WITH_CODE}`, [
		taskCode.toUpperCase(),
	]);
	if (!task) throw new InputError("unknown-task", "There is no task with this code.", { status: 404 });
	return task;
}
