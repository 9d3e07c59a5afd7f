/** @returns whether it is a key: 32 bytes in base64, base64url or hexadecimal */
export function isDataKey(text: string): boolean {
	return /^[0-9a-f]{64}$/i.test(text) || /^[A-Za-z0-9+/_-]{43}=?$/.test(text);
}

export const DATA_KEY_RIGHT = "is 32 bytes in base64 or hexadecimal, such as `openssl rand -base64 32` makes";
