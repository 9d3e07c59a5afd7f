import { record } from "../../../src/ledger/ledger.js";
import { setDue } from "../../../src/programme/due.js";
import { START_MS, type World } from "../../support/world.js";

/** Puts what belongs to the rows that `threeParts` put there by themselves. */
export async function completed({ store, ids }: World): Promise<void> {
	const tasks = await store.query<{ id: string; kind: string; subjectId: string; areaId: string }>("SELECT * FROM task");
	const replies = await store.query<{ id: string }>("SELECT id FROM reply");
	const entry = { atMs: START_MS, actor: "tests", detail: {} };
	await store.work.run(async (tx) => {
		await setDue(
			tx,
			tasks.map(({ kind, subjectId, areaId }) => ({ kind, subjectId, areaId, dueAtMs: null })),
		);
		await tx.affected("UPDATE batch SET held_ul = (SELECT SUM(volume_ul) FROM stock_move WHERE jar_id = batch.id)");
		await record(tx, ids, [
			...tasks.map(({ id }) => ({ ...entry, action: "task opened", subjectKind: "task", subjectId: id })),
			...replies.map(({ id }) => ({ ...entry, action: "reply unclear", subjectKind: "reply", subjectId: id })),
		]);
	});
}
