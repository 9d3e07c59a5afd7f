/** What a placeholder is filled with: text as it stands, a number, or a local date 'YYYY-MM-DD'. */
export type Filling = "text" | "number" | "date";

interface TextKind {
	/** What every catalogue's text of this name is filled with, no more and no less. */
	readonly fill: Readonly<Record<string, Filling>>;
	/** Asks for work: pointless, and so withdrawn, once the task is closed. */
	readonly asksForWork?: true;
}

const dilution = { sampleMl: "number", waterL: "number" } as const;

/** Free chlorine that was read in a container. */
const residual = { container: "text", mgPerL: "number" } as const;

/** Free chlorine that was read in a container. */

/** Every text that the program sends. A new one is a line here and a line in each catalogue; start-up refuses a gap. */
export const TEXTS = {
	"retest.first": {
		fill: { code: "text", jar: "text", chancePercent: "number", days: "number", ...dilution },
		asksForWork: true,
	},
	"retest.fresh": { fill: { code: "text", jar: "text", ...dilution }, asksForWork: true },
	"retest.again": { fill: { code: "text", jar: "text", ...dilution }, asksForWork: true },
	"retest.line": { fill: { code: "text", jar: "text", ...dilution } },
	"retest.coming": { fill: { jar: "text" } },
	"retest.supervisor": { fill: { code: "text", jar: "text", name: "text", hours: "number" }, asksForWork: true },
	"retest.cannot.supervisor": { fill: { code: "text", jar: "text", name: "text" } },
	"digest.work": { fill: { count: "number", lines: "text" } },
	"digest.late": { fill: { count: "number", lines: "text" } },
	"digest.late.line": { fill: { line: "text", name: "text", hours: "number" } },
	"dose.told": {
		fill: { jar: "text", strengthGPerL: "number", lowGPerL: "number", highGPerL: "number", doses: "text", nextTestOn: "date" },
	},
	"jar.weak": { fill: { jar: "text", strengthGPerL: "number" } },
	"jar.weak.supervisor": { fill: { jar: "text", name: "text", strengthGPerL: "number" } },
	"jar.contradicts": { fill: { jar: "text" } },
	"household.dose": { fill: { household: "text", times: "number" } },
	"jar.backInUse": { fill: { jar: "text", strengthGPerL: "number", doses: "text", nextTestOn: "date" } },
	"jar.setAside": { fill: { jar: "text" } },
	"jar.contradicts.supervisor": { fill: { jar: "text", name: "text" } },
	"stop.supervisor": { fill: { name: "text" } },
	"jar.testFirst": { fill: { jar: "text" } },
	"run.first": {
		fill: { jar: "text", strengthGPerL: "number", generator: "text", minutes: "number", code: "text" },
		asksForWork: true,
	},
	"run.line": { fill: { code: "text", generator: "text", minutes: "number" } },
	"run.again": { fill: { generator: "text", minutes: "number", jar: "text", code: "text" }, asksForWork: true },
	"run.supervisor": {
		fill: { name: "text", hours: "number", generator: "text", minutes: "number", jar: "text", code: "text" },
		asksForWork: true,
	},
	"run.told": { fill: { jar: "text", strengthGPerL: "number" } },
	"run.impossible": { fill: { jar: "text", litres: "number", minutes: "number", code: "text" } },
	"fault.first": { fill: { generator: "text", cause: "text", code: "text" }, asksForWork: true },
	"fault.line": { fill: { code: "text", generator: "text" } },
	"fault.again": { fill: { generator: "text", code: "text" }, asksForWork: true },
	"fault.supervisor": { fill: { name: "text", hours: "number", generator: "text", code: "text" }, asksForWork: true },
	"fault.told": { fill: { generator: "text" } },
	"fault.found.supervisor": { fill: { generator: "text", name: "text", cause: "text", code: "text" } },
	"fault.nothing.supervisor": { fill: { name: "text", generator: "text", code: "text" } },
	"care.first": { fill: { generator: "text", inspect: "text", descale: "text", code: "text" }, asksForWork: true },
	"care.line": { fill: { code: "text", generator: "text" } },
	"care.again": { fill: { generator: "text", code: "text" }, asksForWork: true },
	"care.supervisor": { fill: { name: "text", hours: "number", generator: "text", code: "text" }, asksForWork: true },
	"care.order.supervisor": {
		fill: { generator: "text", electrodeHours: "number", lifeLowHours: "number", lifeHighHours: "number" },
	},
	"care.damage.supervisor": { fill: { name: "text", generator: "text", code: "text" } },
	"battery.first": { fill: { battery: "text", percent: "number", code: "text" }, asksForWork: true },
	"battery.line": { fill: { code: "text", battery: "text" } },
	"battery.again": { fill: { battery: "text", code: "text" }, asksForWork: true },
	"battery.supervisor": { fill: { name: "text", hours: "number", battery: "text", code: "text" }, asksForWork: true },
	"battery.told": { fill: { battery: "text", percent: "number", lowPercent: "number", highPercent: "number", enough: "text" } },
	"battery.unrested": { fill: { battery: "text" } },
	"battery.worn.supervisor": { fill: { battery: "text", percent: "number" } },
	"reagent.first": { fill: { lot: "text", useUntilOn: "date", code: "text" }, asksForWork: true },
	"reagent.line": { fill: { code: "text", lot: "text" } },
	"reagent.again": { fill: { lot: "text", useUntilOn: "date", code: "text" }, asksForWork: true },
	"reagent.supervisor": {
		fill: { name: "text", hours: "number", lot: "text", useUntilOn: "date", code: "text" },
		asksForWork: true,
	},
	"reagent.new.supervisor": { fill: { name: "text", lot: "text", code: "text" } },
	"compare.first": {
		fill: { other: "text", jar: "text", sampleMl: "number", waterL: "number", code: "text" },
		asksForWork: true,
	},
	"compare.line": { fill: { code: "text", jar: "text", other: "text" } },
	"compare.again": {
		fill: { jar: "text", other: "text", sampleMl: "number", waterL: "number", code: "text" },
		asksForWork: true,
	},
	"compare.supervisor": { fill: { name: "text", hours: "number", jar: "text", other: "text", code: "text" }, asksForWork: true },
	"compare.result.supervisor": { fill: { jar: "text", name: "text", other: "text", agree: "text" } },
	"work.done": { fill: { code: "text" } },
	"work.cannot.supervisor": { fill: { name: "text", code: "text", about: "text" } },
	"collect.first": { fill: { code: "text", litres: "number", point: "text", outOn: "date" }, asksForWork: true },
	"collect.again": { fill: { code: "text", litres: "number", point: "text" }, asksForWork: true },
	"collect.supervisor": {
		fill: { code: "text", name: "text", hours: "number", litres: "number", point: "text" },
		asksForWork: true,
	},
	"collect.cannot.supervisor": { fill: { code: "text", name: "text", litres: "number", point: "text" } },
	"collect.noted": { fill: { litres: "number", jar: "text" } },
	"collect.notHeld": { fill: { point: "text", example: "text" } },
	"collect.unclear": { fill: { example: "text" } },
	"make.first": {
		fill: { code: "text", generator: "text", litres: "number", runs: "number", saltG: "number", byOn: "date" },
		asksForWork: true,
	},
	"make.again": { fill: { code: "text", generator: "text", litres: "number" }, asksForWork: true },
	"make.supervisor": {
		fill: { code: "text", name: "text", hours: "number", generator: "text", litres: "number", outOn: "date" },
		asksForWork: true,
	},
	"make.cannot.supervisor": { fill: { code: "text", name: "text", generator: "text", litres: "number", outOn: "date" } },
	"make.shortage": { fill: { code: "text", generator: "text", litres: "number", outOn: "date" }, asksForWork: true },
	"make.noted": { fill: { litres: "number", jar: "text" } },
	"make.arranged": { fill: {} },
	"make.unclear": { fill: { example: "text" } },
	"collect.line": { fill: { code: "text", litres: "number", point: "text" } },
	"make.line": { fill: { code: "text", litres: "number", generator: "text" } },
	"work.taken": { fill: { name: "text", households: "number", jars: "number", tasks: "number" } },
	"work.given": { fill: { name: "text", households: "number", jars: "number", tasks: "number" } },
	"work.takenAll": { fill: { name: "text", households: "number", jars: "number", generators: "number", tasks: "number" } },
	"work.givenAll": { fill: { name: "text", households: "number", jars: "number", generators: "number", tasks: "number" } },
	"work.new": { fill: { households: "number" } },
	"absence.supervisor": { fill: { name: "text", households: "number", proposed: "text" } },
	"discard.surfaces": {
		fill: { code: "text", jar: "text", use: "text", bleachMl: "number", waterL: "number" },
		asksForWork: true,
	},
	"discard.first": { fill: { code: "text", jar: "text" }, asksForWork: true },
	"discard.again": { fill: { code: "text", jar: "text" }, asksForWork: true },
	"discard.supervisor": { fill: { code: "text", name: "text", hours: "number", jar: "text" }, asksForWork: true },
	"discard.line": { fill: { code: "text", jar: "text" } },
	"discard.noted": { fill: { jar: "text" } },
	"discard.setAside": { fill: { jar: "text" } },
	"replenish.first": {
		fill: { code: "text", item: "text", kind: "text", quantity: "number", held: "number" },
		asksForWork: true,
	},
	"replenish.again": { fill: { code: "text", item: "text", quantity: "number" }, asksForWork: true },
	"replenish.supervisor": {
		fill: { code: "text", name: "text", hours: "number", item: "text", quantity: "number" },
		asksForWork: true,
	},
	"replenish.line": { fill: { code: "text", item: "text", quantity: "number" } },
	"replenish.noted": { fill: { item: "text", quantity: "number" } },
	"replenish.unclear": { fill: { example: "text" } },
	"reply.thanksRepeat": { fill: {} },
	"reply.unclear": { fill: { example: "text" } },
	"reply.kept": { fill: {} },
	"reply.notYours": { fill: {} },
	"reply.closed": { fill: { code: "text" } },
	"reply.outOfScale": { fill: { scale: "text", example: "text" } },
	"reply.cannot": { fill: { code: "text" } },
	"reply.later": { fill: { code: "text", on: "date" } },
	"reply.notLater": { fill: { code: "text" } },
	"reply.unclear.supervisor": { fill: { name: "text" } },
	"task.handedOver": { fill: { code: "text", name: "text" } },
	"reply.help": { fill: { example: "text" } },
	"water.check.first": { fill: { code: "text", container: "text", reason: "text" }, asksForWork: true },
	"water.check.again": { fill: { code: "text", container: "text" }, asksForWork: true },
	"water.check.supervisor": { fill: { code: "text", container: "text", name: "text", hours: "number" }, asksForWork: true },
	"water.cannot.supervisor": { fill: { code: "text", container: "text", household: "text", name: "text" } },
	"water.line": { fill: { code: "text", container: "text" } },
	"water.fit": { fill: { ...residual } },
	"water.again": { fill: { ...residual, bleachMl: "number", jar: "text", minutes: "number" } },
	"water.noBleach": { fill: { ...residual } },
	"water.dilute": { fill: { ...residual, minutes: "number" } },
	"water.pour": { fill: { ...residual, minutes: "number" } },
	"water.discard": { fill: { ...residual } },
	"water.otherSource": { fill: { ...residual } },
	"incident.new.supervisor": { fill: { count: "number", lines: "text" } },
	"incident.unfitWater": { fill: { about: "text" } },
	"incident.weakBleach": { fill: { about: "text" } },
	"incident.unanswered": { fill: { about: "text" } },
	"incident.undelivered": { fill: { about: "text" } },
	"incident.generatorOut": { fill: { about: "text" } },
	"water.tooEarly": { fill: { ...residual, minutes: "number" } },
	"water.noted": { fill: { ...residual } },
	"water.unfit.supervisor": { fill: { ...residual, household: "text", name: "text" } },
	"signIn.code": { fill: { oneTimeCode: "text", minutes: "number" } },
	"signIn.password": { fill: { login: "text", way: "text" } },
	"clean.first": { fill: { code: "text", container: "text", reason: "text" }, asksForWork: true },
	"clean.again": { fill: { code: "text", container: "text" }, asksForWork: true },
	"clean.supervisor": {
		fill: { code: "text", container: "text", household: "text", name: "text", hours: "number" },
		asksForWork: true,
	},
	"clean.line": { fill: { code: "text", container: "text" } },
	"clean.told": { fill: { container: "text", nextCleanOn: "date" } },
	"clean.cannot.supervisor": { fill: { code: "text", container: "text", household: "text", name: "text" } },
} as const satisfies Record<string, TextKind>;

/** Placeholders that are filled with somebody's name: what holds one rests sealed, and none of them goes into the ledger. */
export const PERSONAL_FILLINGS = ["name", "other", "oneTimeCode", "way"] as const;

/** @returns what a text is filled with, without anybody's name */
export function withoutNames<T>(fill: Readonly<Record<string, T>>): Record<string, T> {
	return Object.fromEntries(
		Object.entries(fill).filter(([placeholder]) => !PERSONAL_FILLINGS.some((name) => name === placeholder)),
	);
}

export type TextName = keyof typeof TEXTS;

export function isTextName(name: string): name is TextName {
	return Object.hasOwn(TEXTS, name);
}

/** @returns whether a text asks for work that is pointless once the task is closed; false for a name that isn't known */
export function asksForWork(name: string): boolean {
	return isTextName(name) && (TEXTS[name] as TextKind).asksForWork === true;
}

/** @returns the name of the short line that stands for a text among others: "retest.line" for "retest.first" */
export function lineNameOf(name: string): string {
	return `${name.slice(0, name.indexOf("."))}.line`;
}

/** @returns what a text is filled with */
export function fillingsOf(name: TextName): Readonly<Record<string, Filling>> {
	return TEXTS[name].fill;
}
