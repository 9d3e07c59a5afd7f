import type { Subjects } from "../indicator.js";

/**
 * Jars that held bleach for drinking water when the period ended, with what their last test before it read.
 * A jar that was filled anew since then counts as the new filling, and so not at all; jars set aside for surfaces are left out.
 */
export const jars: Subjects = {
	one: "jar",
	several: "jars with bleach in them",
	rows: ({ period: { untilMs }, within }) => `
		SELECT b.id, b.code, b.area_id, b.made_at_ms, t.tested_at_ms, COALESCE((t.low_g_per_l + t.high_g_per_l) / 2, t.low_g_per_l) AS read_g_per_l
		FROM batch b LEFT JOIN strength_test t ON t.id = (
			SELECT last.id FROM strength_test last WHERE last.batch_id = b.id AND last.tested_at_ms < ${untilMs} AND last.tested_at_ms >= b.made_at_ms
			ORDER BY last.tested_at_ms DESC, last.id DESC LIMIT 1)
		WHERE ${within("b.area_id")} AND b.made_at_ms < ${untilMs} AND b.set_aside_until_ms IS NULL
		  AND COALESCE((SELECT SUM(m.volume_ul) FROM stock_move m WHERE m.jar_id = b.id AND m.at_ms < ${untilMs}),
		               CASE WHEN b.state IN ('empty', 'discarded') THEN 0 ELSE 1 END) > 0`,
};
