import type { PersonRole } from "../programme/rows.js";
import type { PictureName } from "./pictures.js";
import type { PageText } from "./texts.js";

/** One way about. */
export interface Way {
	readonly to: string;
	readonly name: PageText;
	readonly picture?: PictureName;
}

const WAYS: Readonly<Record<PersonRole, readonly Way[]>> = {
	volunteer: [
		{ to: "/me", name: "ways.today", picture: "today" },
		{ to: "/me/doses", name: "ways.doses", picture: "syringe" },
		{ to: "/me/stock", name: "ways.stock", picture: "jar" },
		{ to: "/me/answers", name: "ways.answers", picture: "done" },
	],
	supervisor: [
		{ to: "/team", name: "ways.team", picture: "people" },
		{ to: "/team/map", name: "ways.map", picture: "house" },
		{ to: "/team/proposals", name: "ways.proposals", picture: "write" },
		{ to: "/team/plan", name: "ways.plan", picture: "make" },
		{ to: "/team/jars", name: "ways.jars", picture: "jar" },
	],
	"health office": [
		{ to: "/office", name: "ways.coverage", picture: "today" },
		{ to: "/office/trends", name: "ways.trends", picture: "later" },
		{ to: "/office/failures", name: "ways.failures", picture: "warn" },
		{ to: "/office/checks", name: "ways.checks", picture: "look" },
	],
};

/** @returns the ways about of a role, the first of which is where she begins */
export function navigationOf(role: PersonRole): readonly Way[] {
	return WAYS[role];
}
