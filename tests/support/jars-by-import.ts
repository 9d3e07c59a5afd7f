import { climateCells, fileOf } from "../programme/files.js";

/** One invented area in which nobody sleeps, as a file of the import. */
export const areaFile = () => fileOf("areas", `A1,Invented,,UTC,0,0,0,${climateCells("30", "22", "0.4")}`);

/** Volunteers `V0`, `V1`... who may be written to at any hour. */
export const volunteersFile = (numbers: readonly number[]) =>
	fileOf(
		"people",
		...numbers.map((n) => `V${n},volunteer,Invented,+4477009${String(n).padStart(5, "0")},en,A1,,1-7,00:00,00:00,`),
	);

/** A jar for each of these volunteers, so old that its first test is due, and not so old that it is too weak to be tested. */
export const dueJarsFile = (numbers: readonly number[]) => {
	const madeAt = new Date(Date.now() - 12 * 86_400_000).toISOString();
	return fileOf("batches", ...numbers.map((n) => `J${n},,A1,V${n},${madeAt},5,5,9,strip,opaque,indoors,30,0`));
};
