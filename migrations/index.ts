import { Beginning1764000000000 } from "./1764000000000-beginning.js";
import { Protocol1764000000120 } from "./1764000000120-protocol.js";

/** Every step of the schema, in order; a step that has been released is never changed. */
export const migrations = [Beginning1764000000000, Protocol1764000000120];
