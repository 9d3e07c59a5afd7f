import { element } from "../../charts/svg.js";
import { Html } from "../html.js";

const LEFT = 12;
const LONG = 180;
const TOP = 8;
const HIGH = 28;

/**
 * A syringe that is filled to the mark, drawn to its scale.
 * @param capacityMl of the syringe, above 0
 * @param filledMl 0 to its capacity
 * @param label what it says to whoever doesn't see it
 */
export function syringeDrawing(capacityMl: number, filledMl: number, label: string): Html {
	const x = (ml: number) => LEFT + (ml / capacityMl) * LONG;
	const eachMl = capacityMl >= 20 ? 5 : 1;
	const marks = Array.from({ length: Math.floor(capacityMl / eachMl) + 1 }, (_, i) => i * eachMl);
	const isLong = (ml: number) => ml % (eachMl * 5) === 0;
	const inside = [
		element("rect", { class: "wall", x: LEFT, y: TOP, width: LONG, height: HIGH }),
		element("rect", { class: "bleach", x: LEFT + 1, y: TOP + 1, width: Math.max(0, x(filledMl) - LEFT - 1), height: HIGH - 2 }),
		element("rect", { class: "plunger", x: x(filledMl), y: TOP - 2, width: 5, height: HIGH + 4 }),
		element("path", { class: "wall", d: `M${LEFT} 18H2M${x(filledMl) + 5} 22H${LEFT + LONG + 10}M${LEFT + LONG + 10} 10V34` }),
		...marks.map((ml) => element("path", { class: "mark", d: `M${x(ml)} ${TOP + HIGH}v${isLong(ml) ? -12 : -7}` })),
		...marks.filter(isLong).map((ml) => element("text", { x: x(ml), y: TOP + HIGH + 12 }, String(ml))),
	];
	return new Html(element("svg", { class: "syringe", viewBox: "0 0 212 50", role: "img", "aria-label": label }, ...inside));
}
