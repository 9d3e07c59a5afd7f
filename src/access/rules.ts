/** What somebody is to the programme. */
export type Role = "volunteer" | "supervisor" | "health office" | "administrator";

/** What a key may be used for; it may do what it is given and no more. */
export const SCOPES = ["read", "write", "audit", "administer"] as const;
export type Scope = (typeof SCOPES)[number];

interface Rule {
	/** Whose sessions may use such a route, each within her part of the programme. */
	readonly roles: readonly Role[];
	/** What a key needs for it; none: it is about the person who is signed in, and a key is nobody. */
	readonly scope: Scope | null;
}

/** Who may use what: the one table. Each route that isn't open names a row of it, and which part of the programme it touches. */
export const RULES = {
	/** Looks at what is in one's own part. */
	look: { roles: ["volunteer", "supervisor", "health office", "administrator"], scope: "read" },
	/** Looks at what concerns those who lead. */
	oversee: { roles: ["supervisor", "health office", "administrator"], scope: "read" },
	/** Does or tells of the work itself. */
	work: { roles: ["volunteer", "supervisor", "administrator"], scope: "write" },
	/** Decides about people, households and things. */
	lead: { roles: ["supervisor", "administrator"], scope: "write" },
	/** Follows what went wrong to its end. */
	follow: { roles: ["supervisor", "health office", "administrator"], scope: "write" },
	/** Looks at who changed what. */
	audit: { roles: ["health office", "administrator"], scope: "audit" },
	/** Decides about the programme as a whole, and about who may sign in. */
	administer: { roles: ["administrator"], scope: "administer" },
	/** Sees to one's own sign-in. */
	own: { roles: ["volunteer", "supervisor", "health office", "administrator"], scope: null },
} as const satisfies Record<string, Rule>;

export type RuleName = keyof typeof RULES;

export function isRule(name: string): name is RuleName {
	return Object.hasOwn(RULES, name);
}

/** @returns whether somebody of these roles, or a key of these scopes, may use a route of the row */
export function mayUse({ roles, scopes }: { roles: readonly Role[]; scopes: readonly Scope[] }, name: RuleName): boolean {
	const rule: Rule = RULES[name];
	return rule.roles.some((role) => roles.includes(role)) || (rule.scope !== null && scopes.includes(rule.scope));
}
