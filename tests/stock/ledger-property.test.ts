import fc from "fast-check";
import { InputError } from "../../src/errors/errors.js";
import { checkSums } from "../../src/stock/sums.js";
import { MINUTE_MS } from "../../src/time/clock.js";
import { told } from "../support/moves.js";
import { onEachDatabase } from "../support/stores.js";
import { aBatch, newWorld, START_MS, settle, type World } from "../support/world.js";

const JARS = 4;
const jar = fc.integer({ min: 0, max: JARS - 1 });
const volumeMl = fc.oneof(fc.integer({ min: 1, max: 2500 }), fc.double({ min: 0.001, max: 2500, noNaN: true }));

/** Any move of any jar, possible or not. */
const anyMove = fc.oneof(
	{ weight: 4, arbitrary: fc.record({ kind: fc.constantFrom("used", "spilt"), jar, volumeMl }) },
	{ weight: 2, arbitrary: fc.record({ kind: fc.constant("counted"), jar, volumeMl }) },
	{ weight: 3, arbitrary: fc.record({ kind: fc.constant("drawn off"), jar, into: jar, volumeMl }) },
	{ weight: 1, arbitrary: fc.record({ kind: fc.constant("handed over"), jar, to: fc.constantFrom("vol", "sup") }) },
	{ weight: 1, arbitrary: fc.record({ kind: fc.constant("discarded"), jar }) },
);
type AnyMove = { kind: string; jar: number; volumeMl?: number; into?: number; to?: string };

onEachDatabase("random moves in random order", (kind) => {
	let world: World;
	let round = 0;
	beforeAll(async () => {
		world = await newWorld(kind);
		await settle(world);
		await aBatch(world, "LIKE-IT", { volumeL: 2 });
	});
	afterAll(() => world.remove());

	/** @returns what the jars hold afterwards, microlitres, and in which state they are */
	async function played(moves: readonly AnyMove[]) {
		world.clock.moveTo(START_MS);
		const name = `R${++round}-`;
		await world.store.work.run(async (tx) => {
			for (let i = 0; i < JARS; i++)
				await tx.affected(
					`INSERT INTO batch (id, code, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph, ph_knowledge, wall, exposure, lit_area_m2, state, forecast)
					 SELECT $1, $1, area_id, keeper_id, made_at_ms, volume_l, made_strength_g_per_l, made_strength_ln_sd, salt_g_per_l, ph, ph_knowledge, wall, exposure, lit_area_m2, state, forecast
					 FROM batch WHERE code = 'LIKE-IT'`,
					[`${name}${i}`],
				);
		});
		const books = new Map(Array.from({ length: JARS }, (_, i) => [i, { heldUl: 2_000_000, filledUl: 2_000_000, gone: false }]));
		for (const move of moves) {
			world.clock.advance(MINUTE_MS);
			const { jar: at, into, to, ...rest } = move;
			const place = {
				...(into === undefined ? {} : { into: { code: `${name}${into}`, keeperCode: "vol" } }),
				...(to ? { to: { keeperCode: to } } : {}),
			};
			const isPossible = play(books, move);
			const outcome = await world.moves.record(`${name}${at}`, told(world, { ...rest, ...place })).then(
				() => true,
				(error) => {
					if (!(error instanceof InputError)) throw error;
					return false;
				},
			);
			expect({ move, outcome }).toEqual({ move, outcome: isPossible });
		}
		const rows = await world.store.query<{ code: string; heldUl: number | null; state: string }>(
			`SELECT code, held_ul, state FROM batch WHERE code LIKE '${name}%' ORDER BY code`,
		);
		expect(rows.map(({ heldUl }) => heldUl ?? 2_000_000)).toEqual([...books.values()].map(({ heldUl }) => heldUl));
		expect((await checkSums(world.store)).broken).toEqual([]);
		return rows.map(({ heldUl, state }) => ({ heldUl, state: state === "weak" ? "in use" : state }));
	}

	it("create and lose no volume, say what isn't possible, and give the same state when they are played again", async () => {
		await fc.assert(
			fc.asyncProperty(fc.array(anyMove, { minLength: 1, maxLength: 14 }), async (moves) => {
				const first = await played(moves as AnyMove[]);
				expect(await played(moves as AnyMove[])).toEqual(first);
			}),
			{ numRuns: 10, seed: 20261125 },
		);
	}, 120_000);
});

/** The books by the plainest reckoning. @returns whether the move is possible */
function play(books: Map<number, { heldUl: number; filledUl: number; gone: boolean }>, move: AnyMove): boolean {
	const of = books.get(move.jar)!;
	const volumeUl = Math.round((move.volumeMl ?? 0) * 1000);
	if (of.gone) return false;
	switch (move.kind) {
		case "counted":
			if (volumeUl > of.filledUl) return false;
			of.heldUl = volumeUl;
			return true;
		case "discarded":
			of.gone = true;
			of.heldUl = 0;
			return true;
		case "handed over":
			return true;
		case "drawn off": {
			const into = books.get(move.into!)!;
			if (volumeUl < 1 || volumeUl > of.heldUl || into.gone || into.heldUl > 0 || into === of) return false;
			of.heldUl -= volumeUl;
			into.heldUl = volumeUl;
			into.filledUl = volumeUl;
			return true;
		}
		default:
			if (volumeUl < 1 || volumeUl > of.heldUl) return false;
			of.heldUl -= volumeUl;
			return true;
	}
}
