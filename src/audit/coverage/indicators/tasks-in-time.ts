import type { Indicator } from "../indicator.js";
import { tasks } from "../subjects/tasks.js";

export const tasksInTime: Indicator = {
	code: "tasks-in-time",
	name: "Tasks done in time",
	wanted: "more",
	subjects: tasks,
	words: () =>
		"Tasks that were done before anybody had to be reminded of them; of the tasks that fell due in the period and were needed.",
	missing: "tasks that are open and not late yet",
	source: { kind: "own", because: "late is what it is everywhere in the program: reminded of at least once" },
	met: () => "CASE WHEN state = 'open' AND ladder_step = 0 THEN NULL WHEN state = 'done' AND ladder_step = 0 THEN 1 ELSE 0 END",
};
