import { createDecipheriv, createECDH, createHmac } from "node:crypto";

/** What a browser has for one subscription. */
export interface BrowserKeys {
	/** A private key of P-256, 32 bytes. */
	readonly privateKey: Buffer;
	/** The authentication secret, 16 bytes. */
	readonly auth: Buffer;
}

/**
 * Decrypts a push message as a browser does, written from the standards alone.
 * Source: RFC 8291 (2017), sections 3.3, 3.4 and 4; RFC 8188 (2017), section 2; RFC 5869 (2010)
 */
export function decryptedPush(body: Buffer, { privateKey, auth }: BrowserKeys): string {
	const salt = body.subarray(0, 16);
	const recordSize = body.readUInt32BE(16);
	const keyLength = body.readUInt8(20);
	const senderKey = body.subarray(21, 21 + keyLength);
	const record = body.subarray(21 + keyLength);
	if (record.length > recordSize) throw new Error("a push message is one record (RFC 8291, section 4)");
	const ecdh = createECDH("prime256v1");
	ecdh.setPrivateKey(privateKey);
	const shared = ecdh.computeSecret(senderKey);
	const keyInfo = Buffer.concat([Buffer.from("WebPush: info\0"), ecdh.getPublicKey(), senderKey]);
	const ikm = expanded(hmac(auth, shared), keyInfo, 32);
	const prk = hmac(salt, ikm);
	const key = expanded(prk, Buffer.from("Content-Encoding: aes128gcm\0"), 16);
	const nonce = expanded(prk, Buffer.from("Content-Encoding: nonce\0"), 12);
	const decipher = createDecipheriv("aes-128-gcm", key, nonce);
	decipher.setAuthTag(record.subarray(-16));
	const padded = Buffer.concat([decipher.update(record.subarray(0, -16)), decipher.final()]);
	const end = padded.lastIndexOf(2);
	if (end < 0 || padded.subarray(end + 1).some((byte) => byte !== 0)) throw new Error("the last record ends in 2 and zeros");
	return padded.subarray(0, end).toString("utf8");
}

const hmac = (key: Buffer, text: Buffer) => createHmac("sha256", key).update(text).digest();

/** One block of HKDF's second step is enough here. */
function expanded(prk: Buffer, info: Buffer, length: number): Buffer {
	return hmac(prk, Buffer.concat([info, Buffer.from([1])])).subarray(0, length);
}
