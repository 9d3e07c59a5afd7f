/** A jar as most tests have it: 5 L of 5 g/L in an opaque can indoors. */
export const A_JAR = {
	volumeL: 5,
	madeStrengthGPerL: 5,
	madeStrengthLnSd: 0.15,
	saltGPerL: 30,
	ph: 9,
	phKnowledge: "strip",
	wall: "opaque",
	exposure: "indoors",
	litAreaM2: 0,
} as const;
