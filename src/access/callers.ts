import type { Store } from "../store/store.js";
import type { ApiKeys } from "./api-keys.js";
import { type Caller, officeCaller } from "./caller.js";
import { type Part, Reach } from "./reach.js";
import type { Role } from "./rules.js";
import type { Session, Sessions } from "./sessions.js";

interface Known {
	readonly accountId: string | null;
	readonly administrator: boolean | number | null;
	readonly personId: string | null;
	readonly personCode: string | null;
	readonly role: Exclude<Role, "administrator"> | null;
	readonly areaId: string | null;
}

/** Finds out who asks. */
export class Callers {
	private administrated = false;

	constructor(
		private readonly store: Store,
		private readonly sessions: Sessions,
		private readonly keys: ApiKeys,
	) {}

	/** @returns who is signed in by a cookie; none where nobody is, or whoever was may not any more */
	async bySession(secret: string): Promise<Caller | undefined> {
		const session = await this.sessions.of(secret);
		return session && this.whose(session);
	}

	/** @returns the key as a caller; none where it can't be used */
	async byKey(key: string): Promise<Caller | undefined> {
		const found = await this.keys.of(key);
		if (!found) return undefined;
		const reach = new Reach(found.areaId === null ? "whole" : { areaIds: [found.areaId] });
		return { ...officeCaller(), actor: `key ${found.id}`, roles: [], scopes: found.scopes, reach };
	}

	/** Whether somebody can sign in as an administrator: the machine itself is trusted only until then. */
	async isAdministrated(): Promise<boolean> {
		this.administrated ||=
			(await this.store.query("SELECT 1 AS one FROM account WHERE administrator AND password_hash IS NOT NULL LIMIT 1")).length >
			0;
		return this.administrated;
	}

	private async whose(session: Session): Promise<Caller | undefined> {
		const [known] = await (session.accountId === null
			? this.store.query<Known>(
					"SELECT NULL AS account_id, NULL AS administrator, p.id AS person_id, p.code AS person_code, p.role, p.area_id FROM person p WHERE p.id = $1 AND p.active AND p.role = 'volunteer'",
					[session.personId],
				)
			: this.store.query<Known>(
					`SELECT c.id AS account_id, c.administrator, p.id AS person_id, p.code AS person_code, p.role, p.area_id
					 FROM account c LEFT JOIN person p ON p.id = c.person_id WHERE c.id = $1 AND c.active AND (p.id IS NULL OR p.active)`,
					[session.accountId],
				));
		return known && this.caller(known, session.id);
	}

	private async caller(known: Known, sessionId: string): Promise<Caller> {
		const { accountId, personId, personCode, role } = known;
		const roles: Role[] = [...(known.administrator ? (["administrator"] as const) : []), ...(role ? [role] : [])];
		return {
			actor: personId ?? `account ${accountId}`,
			personId,
			personCode,
			accountId,
			sessionId,
			roles,
			scopes: [],
			reach: new Reach(await this.partOf(known)),
		};
	}

	private async partOf({ administrator, role, personId, areaId }: Known): Promise<Part> {
		if (administrator) return "whole";
		if (role === "volunteer") return { volunteerId: personId as string };
		const more = await this.store.query<{ areaId: string }>("SELECT area_id FROM area_duty WHERE person_id = $1", [personId]);
		return { areaIds: [...(areaId === null ? [] : [areaId]), ...more.map((duty) => duty.areaId)] };
	}
}
