/** What verifying asks of the database: reading statements alone. */
export interface LedgerReads {
	readonly kind: "sqlite" | "postgres";
	query<T extends object>(statement: string, parameters?: readonly unknown[]): Promise<T[]>;
}
