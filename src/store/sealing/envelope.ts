/** A sealed value as it rests: what comes before the sealed bytes is readable and can't be changed without notice. */
export interface Envelope {
	/** `sealed1.`, the blind index where there is one, and the key's id. */
	readonly head: string;
	readonly keyId: string;
	/** Nonce, ciphertext and tag, in base64url. */
	readonly sealed: string;
}

const MARK = "sealed1.";
const BLIND_LENGTH = 22;
const KEY_ID_LENGTH = 8;

const FORM = /^(sealed1\.(?:[A-Za-z0-9_-]{22})?\.([A-Za-z0-9_-]{8})\.)([A-Za-z0-9_-]+)$/;

export function headOf(blind: string, keyId: string): string {
	return `${MARK}${blind}.${keyId}.`;
}

export function isEnvelope(text: string): boolean {
	return text.startsWith(MARK);
}

/** @returns the parts of a sealed value; none where it isn't one */
export function envelopeIn(text: string): Envelope | undefined {
	const [, head, keyId, sealed] = FORM.exec(text) ?? [];
	return head && keyId && sealed ? { head, keyId, sealed } : undefined;
}

/** The blind index of a column, in SQL: the same text as in the index on it, or that wouldn't be used. */
export function blindOfColumn(column: string): string {
	return `substr(${column}, ${MARK.length + 1}, ${BLIND_LENGTH})`;
}

/** The key's id of a column, in SQL. */
export function keyIdOfColumn(column: string, hasBlind: boolean): string {
	return `substr(${column}, ${MARK.length + (hasBlind ? BLIND_LENGTH : 0) + 2}, ${KEY_ID_LENGTH})`;
}

/** Whether a column holds a sealed value, in SQL. */
export function isSealedInSql(column: string): string {
	return `substr(${column}, 1, ${MARK.length}) = '${MARK}'`;
}

/** Whether a column holds something that isn't sealed, in SQL. */
export function isPlainInSql(column: string): string {
	return `(${column} <> '' AND substr(${column}, 1, ${MARK.length}) <> '${MARK}')`;
}
