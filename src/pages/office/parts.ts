import type { Coverage } from "../../audit/coverage/coverage.js";
import type { SampleFindings } from "../../audit/sample/findings.js";
import type { AuditResults } from "../../audit/sample/results.js";
import type { Samples } from "../../audit/sample/samples.js";
import type { Heads } from "../../ledger/heads.js";
import type { MapTiles } from "../../settings/map-tiles.js";
import type { IncidentParts } from "../incidents/incident.js";

/** What the health office's pages are made of. */
export interface OfficeParts extends IncidentParts {
	readonly coverage: Coverage;
	readonly samples: Samples;
	readonly findings: SampleFindings;
	readonly results: AuditResults;
	readonly heads: Heads;
	/** None: maps without pictures from elsewhere. */
	readonly mapTiles: MapTiles | undefined;
}
