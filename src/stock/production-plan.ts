/** What a generator is to make, from the wants that it serves. */
export interface ProductionPlan {
	readonly runs: number;
}
