import type { Subjects } from "../indicator.js";

/** Tasks that fell due in the period; those that weren't needed any more are left out. */
export const tasks: Subjects = {
	one: "task",
	several: "tasks",
	rows: ({ period: { fromMs, untilMs }, within }) => `
		SELECT t.id, t.code, t.area_id, t.state, t.ladder_step FROM task t
		WHERE t.due_at_ms >= ${fromMs} AND t.due_at_ms < ${untilMs} AND t.state <> 'withdrawn' AND ${within("t.area_id")}`,
};
