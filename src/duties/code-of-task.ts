/**
 * The open task of the code $1; where none is open, the last one that was: a code is used again once its task is closed. Open and closed
 * ones are asked for apart, because each have an index of their own: a new task is written into one of them alone.
 */
export const WITH_CODE = `WHERE (code = $1 AND state = 'open') OR (code = $1 AND state <> 'open')
	ORDER BY CASE state WHEN 'open' THEN 0 ELSE 1 END, opened_at_ms DESC LIMIT 1`;
