import fc from "fast-check";
import { saidBy } from "../../src/messages/answer-words.js";
import { type ParsedAnswer, parsedAnswer, type Unclear } from "../../src/messages/answers.js";
import { catalogues } from "../../src/messages/catalogues.js";
import { newTaskCode } from "../../src/messages/task-code.js";
import { SeededRandomness } from "../../src/time/randomness.js";

const CODE = "K7M4Q";
const ENDS_IN_DIGIT = (() => {
	const randomness = new SeededRandomness(7);
	for (;;) {
		const code = newTaskCode(randomness);
		if (/\d$/.test(code)) return code;
	}
})();
const reading = (answer: ParsedAnswer) => (answer.kind === "reading" ? `${answer.code ?? "-"} ${answer.reading}` : answer);

describe("an answer that puts work off", () => {
	it.each([
		["K7M4Q later", "K7M4Q"],
		["tomorrow", undefined],
		["K7M4Q I will do it tomorrow please", "K7M4Q"],
		["K7M4Q tomorow", "K7M4Q"],
		["k7m4q plus tard", "K7M4Q"],
		["demain, merci", undefined],
		["K7M4Q MÁS TARDE", "K7M4Q"],
		["mañana", undefined],
		["K7M4Q amanhã", "K7M4Q"],
		["K7M4Q kesho", "K7M4Q"],
		["baadaye", undefined],
		["K7M4Q غدا", "K7M4Q"],
	])("%j is later", (body, code) => {
		expect(parsedAnswer(body)).toEqual({ kind: "later", ...(code ? { code } : {}) });
	});

	it.each([
		["K7M4Q 3 tomorrow", "contradiction"],
		["K7M4Q can't, tomorrow", "contradiction"],
		["done tomorrow", "contradiction"],
	])("%j is asked back: it says two things", (body, why) => {
		expect(parsedAnswer(body)).toEqual({ kind: "unclear", why });
	});

	it.each(["hoy no puedo", "hoje não posso", "je ne peux pas maintenant", "I cannot come today"])(
		"%j isn't later: it is cannot",
		(body) => {
			expect(parsedAnswer(body)).toEqual({ kind: "cannot" });
		},
	);
});

describe("an answer with a reading", () => {
	it.each([
		["K7M4Q 3", "K7M4Q 3"],
		["k7m4q 3", "K7M4Q 3"],
		["k7m4q=3", "K7M4Q 3"],
		["K7M4Q:3", "K7M4Q 3"],
		["K7M4Q-3", "K7M4Q 3"],
		["K7M4Q - 3", "K7M4Q 3"],
		["K7M4Q, 3", "K7M4Q 3"],
		["K7M4Q. 3", "K7M4Q 3"],
		["3 K7M4Q", "K7M4Q 3"],
		["(K7M4Q) 3.", "K7M4Q 3"],
		["K7M4Q3", "K7M4Q 3"],
		["K7M4Q\n3\r\n", "K7M4Q 3"],
		["K7M4Q 3 3", "K7M4Q 3"],
		["K7M4Q K7M4Q 3", "K7M4Q 3"],
		["3", "- 3"],
		[" 3 ", "- 3"],
		["#3", "- 3"],
		["3!!", "- 3"],
		["0", "- 0"],
		["K7M4Q 0", "K7M4Q 0"],
		["03", "- 3"],
		["K7M4Q 1,5", "K7M4Q 1.5"],
		["K7M4Q 1.5", "K7M4Q 1.5"],
		["K7M4Q1,5", "K7M4Q 1.5"],
		["1.50", "- 1.5"],
		["0,125", "- 0.125"],
		["K7M4Q 3 done", "K7M4Q 3"],
		["Hello, K7M4Q the reading is 3 mg/L thank you", "K7M4Q 3"],
		["Bonjour K7M4Q lecture 3 merci", "K7M4Q 3"],
		["hola K7M4Q el número es 3 gracias", "K7M4Q 3"],
		["olá K7M4Q a leitura é 3 obrigada".replace("a leitura", "leitura"), "K7M4Q 3"],
		["habari K7M4Q namba ni 3 asante", "K7M4Q 3"],
		["مرحبا K7M4Q القراءة 3 شكرا", "K7M4Q 3"],
		["K7M4Q 3 👍", "K7M4Q 3"],
		["K7M4Q 3️⃣", "K7M4Q 3"],
	])("%j is %s", (body, expected) => {
		expect(reading(parsedAnswer(body))).toBe(expected);
	});

	it.each([
		"3 mg/l",
		"3mg/L",
		"3 MG/L",
		"3 mg / l",
		"3 mg l",
		"3mgl",
		"3 mg",
		"3ppm",
		"3 ppm",
		"3 mg/litre",
		"٣ ملغ/ل",
		"3 مغ/لتر",
		"3 mg/lita",
	])("%j is 3, with its unit", (body) => {
		expect(reading(parsedAnswer(body))).toBe("- 3");
	});

	// Source: Unicode Character Database, UnicodeData.txt, field 6 (decimal digit value) of each script's block.
	it.each([
		["Arabic-Indic", "٣"],
		["extended Arabic-Indic", "۳"],
		["N'Ko", "߃"],
		["Devanagari", "३"],
		["Bengali", "৩"],
		["Gurmukhi", "੩"],
		["Gujarati", "૩"],
		["Tamil", "௩"],
		["Telugu", "౩"],
		["Khmer", "៣"],
		["Myanmar", "၃"],
		["Lao", "໓"],
		["Tibetan", "༣"],
		["Ol Chiki", "᱓"],
		["Osmanya", "𐒣"],
		["full width", "３"],
		["mathematical bold", "𝟑"],
		["mathematical monospace", "𝟹"],
	])("takes digits of %s", (_, digit) => {
		expect(reading(parsedAnswer(`K7M4Q ${digit}`))).toBe("K7M4Q 3");
	});

	it("takes a decimal number in Arabic-Indic digits with the Arabic separator: ١٫٥ is 1.5", () => {
		expect(reading(parsedAnswer("K7M4Q ١٫٥"))).toBe("K7M4Q 1.5");
		expect(reading(parsedAnswer("\u200fK7M4Q\u200f \u202a١،٥\u202c"))).toBe("K7M4Q 1.5");
	});

	it("takes a code in full-width letters", () => {
		expect(reading(parsedAnswer("Ｋ７Ｍ４Ｑ　３"))).toBe("K7M4Q 3");
	});

	it.each([
		"5+",
		"5 +",
		">5",
		"> 5",
		">=5",
		"> = 5",
		"≥5",
		"more than 5",
		"more then 5".replace("then", "than"),
		"over 5",
		"above 5 mg/l",
		"at least 5",
		"5 or more",
		"5 plus",
		"plus de 5",
		"supérieur à 5",
		"5 ou plus",
		"5 et plus",
		"más de 5",
		"mas de 5",
		"5 o más",
		"mais de 5",
		"5 ou mais",
		"acima de 5",
		"zaidi ya 5",
		"5 na zaidi",
		"أكثر من 5",
		"اكثر من ٥",
		"5 أو أكثر",
		"5+ ppm",
	])("%j is off the top of a scale that ends at 5", (body) => {
		expect(parsedAnswer(`${CODE} ${body}`)).toEqual({
			kind: "reading",
			code: CODE,
			value: 5,
			isOpenTop: true,
			reading: ">5",
			raw: `${CODE} ${body}`,
		});
	});
});

describe("an answer in words", () => {
	it.each([
		["K7M4Q done", { kind: "done", code: CODE }],
		["done", { kind: "done" }],
		["Done, thanks!", { kind: "done" }],
		["finishd K7M4Q", { kind: "done", code: CODE }],
		["fait", { kind: "done" }],
		["Terminé", { kind: "done" }],
		["TERMINE", { kind: "done" }],
		["hecho", { kind: "done" }],
		["feito", { kind: "done" }],
		["tayari", { kind: "done" }],
		["tyari K7M4Q", { kind: "done", code: CODE }],
		["تم", { kind: "done" }],
		["أنجزت", { kind: "done" }],
		["انجزت", { kind: "done" }],
		["K7M4Q can't", { kind: "cannot", code: CODE }],
		["K7M4Q can’t", { kind: "cannot", code: CODE }],
		["K7M4Q cant", { kind: "cannot", code: CODE }],
		["K7M4Q CANNOT", { kind: "cannot", code: CODE }],
		["canot", { kind: "cannot" }],
		["cannto", { kind: "cannot" }],
		["I can not come today", { kind: "cannot" }],
		["je ne peux pas", { kind: "cannot" }],
		["imposible K7M4Q", { kind: "cannot", code: CODE }],
		["no puedo", { kind: "cannot" }],
		["nao posso", { kind: "cannot" }],
		["não posso", { kind: "cannot" }],
		["siwezi", { kind: "cannot" }],
		["لا أستطيع", { kind: "cannot" }],
		["لا استطيع", { kind: "cannot" }],
		["help", { kind: "help" }],
		["?", { kind: "help" }],
		["please help me", { kind: "help" }],
		["K7M4Q aide", { kind: "help", code: CODE }],
		["ayuda", { kind: "help" }],
		["msaada", { kind: "help" }],
		["مساعدة", { kind: "help" }],
		["STOP", { kind: "stop" }],
		["stop!!!", { kind: "stop" }],
		["Stop sending me this", { kind: "stop" }],
		["please stop", { kind: "stop" }],
		["stop 3", { kind: "stop" }],
		["arrêter", { kind: "stop" }],
		["parar", { kind: "stop" }],
		["acha", { kind: "stop" }],
		["توقف", { kind: "stop" }],
	])("%j is %j", (body, expected) => {
		expect(parsedAnswer(body)).toEqual(expected);
	});

	it("stops messages even at the beginning of a text that is too long to be an answer", () => {
		expect(parsedAnswer(`stop ${"bla ".repeat(5000)}`)).toEqual({ kind: "stop" });
	});
});

describe("an answer that may be read in two ways is asked again", () => {
	it.each<[string, Unclear]>([
		["", "empty"],
		[" \r\n\t\u0000\u0007 ", "empty"],
		["...", "empty"],
		["ok thanks", "empty"],
		["K7M4Q", "code-alone"],
		["K7M4Q 3 4", "two-numbers"],
		["3 4", "two-numbers"],
		["2-3", "number"],
		["2/3", "two-numbers"],
		["2 to 3", "two-numbers"],
		["25.11. 3", "two-numbers"],
		["jar 12 is 3", "two-numbers"],
		["3 ½", "two-numbers"],
		["K7M4Q N4XAE 3", "two-codes"],
		["K7M4R 3", "bad-code"],
		["7KM4Q 3", "bad-code"],
		["K7M4 3", "bad-code"],
		["K7M4QQ 3", "bad-code"],
		["K7M4O 3", "bad-code"],
		["K7M4Q O", "letter-for-digit"],
		["K7M4Q o.5", "letter-for-digit"],
		["K7M4Q l", "letter-for-digit"],
		["K7M4Q l.5", "letter-for-digit"],
		["K7M4Q 1O", "letter-for-digit"],
		["K7M4Q I,5", "letter-for-digit"],
		["3 l", "letter-for-digit"],
		["K7M4Q.3", "number"],
		["K7M4Q,3", "number"],
		[".5", "number"],
		[",5", "number"],
		["1,500", "number"],
		["1.500", "number"],
		["1.2.3", "number"],
		["255700000001", "number"],
		["-3", "number"],
		["K7M4Q=-3", "number"],
		["−3", "number"],
		["0.5%", "number"],
		["0.5 ٪", "number"],
		["<1", "less-than"],
		["K7M4Q ≤ 1", "less-than"],
		["less than 1", "words"],
		["not more than 5", "words"],
		["pas plus de 5", "words"],
		["si zaidi ya 5", "words"],
		["3 g/L", "words"],
		["3 mL", "words"],
		["K7M4Q 3 hours ago", "words"],
		["test 3", "words"],
		["none", "words"],
		["K7M4Q none", "words"],
		["can", "words"],
		["not done", "words"],
		["not done yet", "words"],
		["pas fait", "words"],
		["no listo", "words"],
		["não feito", "words"],
		["plus 5", "words"],
		["K7M4Q 3 cannot", "contradiction"],
		["done cannot", "contradiction"],
		["3 help", "contradiction"],
		["K7M4Q 3 please stop", "contradiction"],
		[`K7M4Q 3 ${"and ".repeat(70)}`, "too-long"],
		[`K7M4Q 3${" ".repeat(2000)}4`, "too-long"],
	])("%j: %s", (body, why) => {
		expect(parsedAnswer(body.replace("N4XAE", otherCode()))).toEqual({ kind: "unclear", why });
	});

	it("where the code ends in a digit and the value follows without a space: the last key may have been pressed twice", () => {
		expect(parsedAnswer(`${ENDS_IN_DIGIT}${ENDS_IN_DIGIT.at(-1)}`)).toEqual({ kind: "unclear", why: "bad-code" });
		expect(reading(parsedAnswer(`${ENDS_IN_DIGIT} 3`))).toBe(`${ENDS_IN_DIGIT} 3`);
	});
});

function otherCode(): string {
	return newTaskCode(new SeededRandomness(11));
}

describe("the answering words", () => {
	it("keep what people say apart: no word of one meaning is within one letter of a word of another", () => {
		for (const { words } of catalogues)
			for (const said of ["done", "cannot", "help", "stop"] as const)
				for (const phrase of words[said]) expect([phrase, parsedAnswer(phrase)]).toEqual([phrase, { kind: said }]);
	});

	it("forgive one letter missing, added, wrong or swapped in 'siwezi', and not two", () => {
		expect(["siwez", "siwezzi", "siweza", "siwzei"].map(saidBy)).toEqual(Array(4).fill("cannot"));
		expect(["siwe", "siwezzii", "sawezo"].map(saidBy)).toEqual(Array(3).fill(undefined));
	});
});

describe("whatever is received", () => {
	it("never throws, for any text", () => {
		fc.assert(
			fc.property(
				fc.oneof(fc.string({ unit: "binary", maxLength: 300 }), fc.string({ unit: "grapheme", maxLength: 100 })),
				(body) => {
					expect(["reading", "done", "cannot", "help", "stop", "unclear"]).toContain(parsedAnswer(body).kind);
				},
			),
			{ numRuns: 3000 },
		);
	});

	it("never throws on lone surrogates", () => {
		expect(parsedAnswer("\ud83d 3 \udc00")).toMatchObject({ kind: "reading", value: 3 });
	});

	it("gives back the number that was typed, for every tenth from 0 to 20 with point or comma, after any code", () => {
		fc.assert(
			fc.property(
				fc.integer(),
				fc.integer({ min: 0, max: 200 }),
				fc.constantFrom(".", ","),
				fc.constantFrom(" ", "=", ": "),
				(n, tenths, point, join) => {
					const code = newTaskCode(new SeededRandomness(n));
					const typed = (tenths / 10).toFixed(1).replace(".", point);
					expect(parsedAnswer(`${code.toLowerCase()}${join}${typed}`)).toMatchObject({
						kind: "reading",
						code,
						value: tenths / 10,
						isOpenTop: false,
					});
				},
			),
		);
	});

	it("never reads another number than the one that is there, whatever single character is put into 'K7M4Q 3'", () => {
		const whole = `${CODE} 3`;
		const strange: string[] = [];
		for (let at = 0; at <= whole.length; at++)
			for (let c = 1; c < 0x3000; c++) {
				const answer = parsedAnswer(whole.slice(0, at) + String.fromCharCode(c) + whole.slice(at));
				if (answer.kind !== "reading") continue;
				const typedDigit = /\p{Nd}|\p{No}/u.test(String.fromCharCode(c)) && at >= 6;
				if (answer.code !== CODE || (!typedDigit && answer.value !== 3)) strange.push(JSON.stringify([at, c, answer]));
			}
		expect(strange).toEqual([]);
	});

	// 50 ms is the bound of the OWASP ASVS 5.0.0 checklist (1.3.7, matchers linear in their input) on two slow cores.
	it.each([
		["letters", "a"],
		["digits", "1"],
		["control characters", "\u0000"],
		["zero width joiners", "\u200d"],
		["points and digits", "1."],
		["apostrophes", "a'"],
		["combining marks", "\u0301"],
		["the ligature that unfolds to 18 letters", "\ufdfa"],
		["comparison signs", ">"],
		["task codes", "K7M4Q "],
	])("takes 100 kB of %s in under 50 ms", (_, unit) => {
		const body = unit.repeat(Math.ceil(100_000 / unit.length));
		parsedAnswer(body);
		const beganAt = performance.now();
		expect(parsedAnswer(body).kind).toBe("unclear");
		expect(performance.now() - beganAt).toBeLessThan(50);
	});
});
