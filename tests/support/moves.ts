import type { NewJarMove } from "../../src/stock/stock-moves.js";
import type { World } from "./world.js";

/** What nobody has said of a move: at what is now, by somebody at the office. */
export const told = (world: World, move: object): NewJarMove =>
	({ atMs: world.clock.nowMs(), byCode: null, note: null, ...move }) as NewJarMove;
