import { importKinds } from "../../src/imports.js";
import { pageTexts } from "../../src/pages/texts.js";
import { wordsIn } from "../../src/pages/words.js";
import { onEachDatabase } from "../support/stores.js";
import { type ServedSite, servedSite } from "./site.js";

const OTHERS = pageTexts.languages.filter((language) => language !== "en");

describe("what would be right in a file", () => {
	it.each(OTHERS)(
		"is told in %s of every column of every kind of file, with its figures and without an open placeholder",
		(language) => {
			const { said } = wordsIn(language, "UTC");
			const rights = importKinds.flatMap(({ name, columns }) =>
				Object.entries(columns).map(([column, { right }]) => ({ at: `${name} ${column}`, right })),
			);
			expect(rights.length).toBeGreaterThan(100);
			for (const { at, right } of rights) {
				const told = said(right);
				expect({ at, told, isTold: told !== undefined && told !== right && !/[{}]/.test(told) }).toMatchObject({
					at,
					isTold: true,
				});
				// No English is left within: a part that nobody told again would stand in it as it was.
				const unit = /\((.{4,})\)$/.exec(right)?.[1];
				if (unit && unit !== "°C" && !pageTexts.languages.some((one) => one !== "en" && wordsIn(one, "UTC").said(unit) === unit))
					expect({ at, told }).not.toEqual({ at, told: expect.stringContaining(unit) });
				const figures = right.match(/(?<![\w.-])\d+(?![\w.:-])/g) ?? [];
				for (const figure of figures) expect({ at, told }).toEqual({ at, told: expect.stringContaining(figure) });
				// One thing that was wrong more than once over is told whole.
				expect(said(`must not be empty: ${right}; did you mean "x-1"?`)).toContain("x-1");
			}
		},
	);

	it.each([
		["fr", 'no household has this code; did you mean "H-12"?', 'rien de tel (foyer) n\'a ce code; vouliez-vous dire "H-12" ?'],
		["es", "must be 0.5 to 1000 (litres)", "debe ser de 0,5 a 1000 (litros)"],
		[
			"pt",
			"must be 0 to 1 (share of the sky); a decimal comma is read only where semicolons separate the columns",
			"deve ser de 0 a 1 (parte do céu); a vírgula decimal só é lida onde as colunas se separam com ponto e vírgula",
		],
		["sw", "stands on line 7 too; each code once is right", "iko pia kwenye mstari 7; kila msimbo mara moja tu"],
		["fr", 'must be "clear" or "cloudy" or "very turbid"', 'doit être "clear" ou "cloudy" ou "very turbid"'],
	])("is told in %s: %s", (language, sentence, told) => {
		expect(wordsIn(language, "UTC").said(sentence)).toBe(told);
	});

	it("tells that acid is never added, wherever a pH is too low", () => {
		const right = importKinds.find(({ name }) => name === "batches")!.columns["ph"]!.right;
		const acids = {
			fr: "n'ajoutez jamais d'acide",
			es: "nunca añada ácido",
			pt: "nunca junte ácido",
			sw: "usiongeze asidi kamwe",
			ar: "لا تضف حمضا أبدا",
		};
		for (const [language, words] of Object.entries(acids)) expect(wordsIn(language, "UTC").said(right)).toContain(words);
	});
});

/** Each wrong in a way of its own. */
const WRONG_FILES: readonly (readonly [kind: string, text: string, problems: number])[] = [
	[
		"households",
		'code,area_code,volunteer_code,persons,water_source,turbidity,latitude_deg,longitude_deg\nH-1,A9,nobody,0,well,claer,1.5,\nH-1,A1,,5,"we\nll",clear,95,12\n!,A1,,5,well,,,\n',
		8,
	],
	["containers", "code;household_code;volume_l;kind;last_cleaned_on\nC1;none;1,5;bucket;2999-01-01\nC2;none;2.5;tap;soon\n", 5],
	[
		"people",
		"code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels\nP1,boss,N,123,english,A1,ghost,8,25:00,06:00,sms sms\n",
		6,
	],
	[
		"people",
		"code,role,name,phone,language,area_code,supervisor_code,working_days,quiet_from,quiet_until,channels\nP2,volunteer,N,,en,A1,ghost,1-5,20:00,06:00,sms\nP3,volunteer,N,,en,A1,vol,1-5,20:00,06:00,sms\nP4,supervisor,N,,en,A1,P5,1-5,20:00,06:00,sms\nP5,supervisor,N,,en,A1,P4,1-5,20:00,06:00,sms\n",
		3,
	],
	["areas", "code,nmae\nA7,x\n", 3],
	["areas", "", 1],
	["holidays", "code,area_code,on_date,name\nX,A1\n", 1],
	["holidays", 'code,area_code,on_date,name\n"X,A1,2026-01-01,y\n', 1],
	[
		"batches",
		"code,generator_code,area_code,keeper_code,made_at,volume_l,strength_g_per_l,ph,ph_knowledge,wall,exposure,salt_g_per_l,lit_area_m2\nB1,,A1,,2999-01-01T08:00,5,5,,strip,opaque,shade,30,0\n",
		2,
	],
];

onEachDatabase("a file that isn't right", (database) => {
	let site: ServedSite;
	let cookie: string;
	let token: string;
	beforeAll(async () => {
		site = await servedSite(database);
		const made = await fetch(`${site.address}/setting-up/administrator`, {
			method: "POST",
			redirect: "manual",
			headers: { "content-type": "application/x-www-form-urlencoded" },
			body: new URLSearchParams({ login: "chief", password: "four quiet herons stand" }).toString(),
		});
		cookie = /session=[^;]+/.exec(made.headers.get("set-cookie") ?? "")![0];
		token = /name="token" value="([^"]+)"/.exec(
			await (await fetch(`${site.address}/setting-up`, { headers: { cookie } })).text(),
		)![1]!;
	}, 120_000);
	afterAll(() => site.close());

	it.each(OTHERS)("is told in %s on the page, line by line, with nothing left in English", async (language) => {
		for (const [kind, text, problems] of WRONG_FILES) {
			const body = new FormData();
			for (const [name, value] of Object.entries({ token, kind, country: "" })) body.append(name, value);
			body.append("file", new Blob([text], { type: "text/csv" }), "file.csv");
			const answer = await fetch(`${site.address}/setting-up/import`, {
				method: "POST",
				headers: { cookie: `${cookie}; jarwatch-language=${language}`, "x-form-token": token },
				body,
			});
			const page = await answer.text();
			expect({ kind, status: answer.status, english: page.match(/<span lang="en"[\s\S]*?<\/span>/g) ?? [] }).toEqual({
				kind,
				status: 422,
				english: [],
			});
			const rows = /role="alert"[\s\S]*?<tbody>([\s\S]*?)<\/tbody>/.exec(page)![1]!.match(/<tr>/g) ?? [];
			expect({ kind, text, atLeast: rows.length >= problems }).toEqual({ kind, text, atLeast: true });
		}
	});
});
