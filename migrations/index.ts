import { Beginning1764000000000 } from "./1764000000000-beginning.js";
import { Protocol1764000000120 } from "./1764000000120-protocol.js";
import { Watched1764000000200 } from "./1764000000200-watched.js";
import { IdempotencyKeys1764000000210 } from "./1764000000210-idempotency-keys.js";
import { StaleForecasts1764000000220 } from "./1764000000220-stale-forecasts.js";
import { Water1764000001000 } from "./1764000001000-water.js";
import { Stock1764000002000 } from "./1764000002000-stock.js";
import { Generators1764000003000 } from "./1764000003000-generators.js";
import { Channels1764000004000 } from "./1764000004000-channels.js";
import { Telling1764000005000 } from "./1764000005000-telling.js";
import { Assignment1764000006000 } from "./1764000006000-assignment.js";
import { Urgent1764000007000 } from "./1764000007000-urgent.js";

/** Every step of the schema, in order; a step that has been released is never changed. */
export const migrations = [
	Beginning1764000000000,
	Protocol1764000000120,
	Watched1764000000200,
	IdempotencyKeys1764000000210,
	StaleForecasts1764000000220,
	Water1764000001000,
	Stock1764000002000,
	Generators1764000003000,
	Channels1764000004000,
	Telling1764000005000,
	Assignment1764000006000,
	Urgent1764000007000,
];
