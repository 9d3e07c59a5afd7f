import { isDeepStrictEqual } from "node:util";
import { InputError } from "../../errors/errors.js";
import { record } from "../../ledger/ledger.js";
import { placeholders } from "../../store/sql.js";
import type { Store } from "../../store/store.js";
import type { Transaction } from "../../store/unit-of-work.js";
import type { Clock } from "../../time/clock.js";
import type { Ids } from "../../time/ids.js";
import { shippedProtocols } from "../protocols/shipped.js";
import { protocolFindings } from "./checker.js";
import { closedOnDrinkersSide } from "./closing.js";
import { type Finding, problemOf, refusals } from "./finding.js";
import { type Protocol, protocolFrom } from "./protocol.js";

/** A protocol that was accepted, with what the checker said of it. */
export interface ProtocolVersion {
	readonly id: string;
	readonly code: string;
	readonly version: number;
	readonly title: string;
	readonly body: Protocol;
	readonly findings: readonly Finding[];
	readonly acceptedAtMs: number;
}

type Summary = Pick<ProtocolVersion, "id" | "code" | "version" | "title" | "acceptedAtMs">;

/** The written protocols of the programme: accepted once, never changed, one of them the default. */
export class Protocols {
	constructor(
		private readonly store: Store,
		private readonly clock: Clock,
		private readonly ids: Ids,
	) {}

	/**
	 * Takes a protocol in.
	 * @param value plain values in the protocol's form
	 * @param by who takes it in; `closeOnDrinkersSide` closes gaps, overlaps and endless steps first, and says so in it
	 * @returns the version as it is kept; the same one again where the same protocol has been taken in before
	 * @throws InputError `invalid-input` with a problem for each refusal, and nothing is kept; `conflict` where the code and version have
	 *   another text
	 */
	async accept(value: unknown, by: { actor: string; closeOnDrinkersSide?: boolean }): Promise<ProtocolVersion> {
		const submitted = protocolFrom(value);
		const protocol = by.closeOnDrinkersSide ? protocolFrom(closedOnDrinkersSide(submitted).protocol) : submitted;
		const findings = protocolFindings(protocol);
		refuseWhere(refusals(findings), protocol);
		return this.store.work.run(async (tx) => {
			const atMs = this.clock.nowMs();
			const id = this.ids.next();
			const { code, version, title } = protocol;
			const added = await tx.affected(
				`INSERT INTO protocol_version (id, code, version, title, body, findings, accepted_at_ms)
				 VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (code, version) DO NOTHING`,
				[id, code, version, title, JSON.stringify(protocol), JSON.stringify(findings), atMs],
			);
			if (added > 0)
				await record(tx, this.ids, [
					{
						atMs,
						actor: by.actor,
						action: "protocol accepted",
						subjectKind: "protocol",
						subjectId: id,
						detail: { code, version, findings: findings.length },
					},
				]);
			const kept = await versionIn(tx, code, version);
			if (!isDeepStrictEqual(kept.body, plain(protocol)))
				throw new InputError("conflict", `Protocol ${code} version ${version} has another text. A change is a new version.`, {
					status: 409,
				});
			return kept;
		});
	}

	/**
	 * Takes in the protocols that come with the program, and makes the first the default where there is none. Safe to repeat, and from
	 * several processes at once: what is there already is only read.
	 */
	async acceptShipped(actor: string): Promise<void> {
		if (await this.hasShipped()) return;
		await this.store.work.run(async (tx) => {
			// Several processes may start at once: one after the other looks whether there is a default.
			if (tx.kind === "postgres") await tx.query("SELECT pg_advisory_xact_lock($1)", [SHIPPED_LOCK]);
			for (const protocol of shippedProtocols) await this.accept(protocol, { actor });
			const [first] = shippedProtocols;
			if (!(await defaultIn(tx))) await this.makeDefault(first.code, first.version, actor);
		});
	}

	private async hasShipped(): Promise<boolean> {
		if (!(await defaultIn(this.store))) return false;
		const kept = await this.store.query<{ code: string; version: number; body: string }>(
			`SELECT code, version, body FROM protocol_version WHERE code IN (${placeholders(shippedProtocols.length)})`,
			shippedProtocols.map(({ code }) => code),
		);
		return shippedProtocols.every((protocol) => {
			const same = kept.find(({ code, version }) => code === protocol.code && version === protocol.version);
			return same && isDeepStrictEqual(JSON.parse(same.body), plain(protocol));
		});
	}

	/** @returns every version, by code and version */
	list(): Promise<Summary[]> {
		return this.store.query<Summary>(
			"SELECT id, code, version, title, accepted_at_ms FROM protocol_version ORDER BY code, version",
		);
	}

	/** @throws InputError `unknown-subject` (404) that names the versions that are there */
	get(code: string, version: number): Promise<ProtocolVersion> {
		return versionIn(this.store, code, version);
	}

	/**
	 * Makes a version the one that households begin with.
	 * Households that stand under the default so far keep the old one: they are moved by name or not at all.
	 * @throws InputError `unknown-subject` for a version that isn't there
	 */
	async makeDefault(code: string, version: number, actor: string): Promise<void> {
		await this.store.work.run(async (tx) => {
			const next = await versionIn(tx, code, version);
			const last = await defaultIn(tx);
			if (last?.id === next.id) return;
			const atMs = this.clock.nowMs();
			const kept = last
				? await tx.affected(
						`INSERT INTO household_protocol (household_id, protocol_version_id, since_ms)
						 SELECT h.id, $1, CAST($2 AS bigint) FROM household h
						 WHERE NOT EXISTS (SELECT 1 FROM household_protocol p WHERE p.household_id = h.id)`,
						[last.id, atMs],
					)
				: 0;
			await tx.affected("INSERT INTO protocol_default (id, protocol_version_id, since_ms) VALUES ($1, $2, $3)", [
				this.ids.next(),
				next.id,
				atMs,
			]);
			await record(tx, this.ids, [
				{
					atMs,
					actor,
					action: "default protocol set",
					subjectKind: "protocol",
					subjectId: next.id,
					detail: { code, version, from: last ? named(last) : null, householdsKept: kept },
				},
			]);
		});
	}
}

/** Any fixed number serves that nothing else in the program locks. */
const SHIPPED_LOCK = 7_521_906;

function refuseWhere(refused: readonly Finding[], { code, version }: Protocol): void {
	if (refused.length === 0) return;
	const sentences = refused.map(({ sentence }) => sentence).join(" ");
	throw new InputError("invalid-input", `Protocol ${code} version ${version} isn't accepted. ${sentences}`, {
		problems: refused.map(problemOf),
	});
}

/** What comes back from JSON has no properties without a value. */
const plain = (protocol: Protocol): unknown => JSON.parse(JSON.stringify(protocol));

/** "two-dose 1" */
export const named = ({ code, version }: Pick<ProtocolVersion, "code" | "version">): string => `${code} ${version}`;

/** A version as it is kept, its two values still text. */
export type KeptVersion = Omit<ProtocolVersion, "body" | "findings"> & { body: string; findings: string };

/** The columns of a version `v`. */
export const VERSION_COLUMNS = "v.id, v.code, v.version, v.title, v.body, v.findings, v.accepted_at_ms";

export function versionOf(row: KeptVersion): ProtocolVersion {
	return { ...row, body: JSON.parse(row.body) as Protocol, findings: JSON.parse(row.findings) as Finding[] };
}

/** @returns versions by id; one that isn't there is left out */
export async function versionsIn(
	from: Pick<Transaction, "query">,
	versionIds: readonly string[],
): Promise<ReadonlyMap<string, ProtocolVersion>> {
	const once = [...new Set(versionIds)];
	if (once.length === 0) return new Map();
	const rows = await from.query<KeptVersion>(
		`SELECT ${VERSION_COLUMNS} FROM protocol_version v WHERE v.id IN (${placeholders(once.length)})`,
		once,
	);
	return new Map(rows.map((row) => [row.id, versionOf(row)]));
}

/** @throws InputError `unknown-subject` (404) that names the versions that are there */
export async function versionIn(from: Pick<Transaction, "query">, code: string, version: number): Promise<ProtocolVersion> {
	const [row] = await from.query<KeptVersion>(
		`SELECT ${VERSION_COLUMNS} FROM protocol_version v WHERE v.code = $1 AND v.version = $2`,
		[code, version],
	);
	if (row) return versionOf(row);
	const known = await from.query<Summary>("SELECT code, version FROM protocol_version ORDER BY code, version LIMIT 50");
	throw new InputError(
		"unknown-subject",
		`There is no protocol version ${code} ${version}. Known are: ${known.map(named).join(", ") || "none yet"}.`,
		{ status: 404 },
	);
}

/** @returns the version that households begin with; none where none was set */
export async function defaultIn(from: Pick<Transaction, "query">): Promise<ProtocolVersion | undefined> {
	const [row] = await from.query<KeptVersion>(
		`SELECT ${VERSION_COLUMNS} FROM protocol_default d JOIN protocol_version v ON v.id = d.protocol_version_id
		 ORDER BY d.since_ms DESC, d.id DESC LIMIT 1`,
	);
	return row ? versionOf(row) : undefined;
}
