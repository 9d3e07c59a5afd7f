/** Tells turns of the event loop apart: nothing from outside the process arrives within one. */
export class Turns {
	private turn: object | undefined;

	/** @returns the same object until the event loop has gone round */
	current(): object {
		if (!this.turn) {
			this.turn = {};
			setImmediate(() => {
				this.turn = undefined;
			});
		}
		return this.turn;
	}
}
