import {
	createCipheriv,
	createDecipheriv,
	createHmac,
	createSecretKey,
	hkdfSync,
	type KeyObject,
	randomFillSync,
} from "node:crypto";
import { DefectError, InputError } from "../../errors/errors.js";
import { DATA_KEY_RIGHT, isDataKey } from "../../settings/data-key.js";
import { type BlindKind, normalised } from "./blind.js";
import { type Envelope, envelopeIn, headOf, isEnvelope } from "./envelope.js";

/** What is derived from one configured key; the key itself is kept nowhere. */
interface DataKey {
	/** Told in envelopes and messages; says nothing of the key. */
	readonly id: string;
	readonly sealing: KeyObject;
	readonly blinding: KeyObject;
}

interface Opened {
	readonly label: string;
	readonly text: string;
}

/** Some MB at most, twice. */
const MOST_REMEMBERED = 10_000;

const KEY_BYTES = 32;
const NONCE_BYTES = 12;
const TAG_BYTES = 16;
/** 128 bits of a blind index: no two addresses meet by chance. */
const BLIND_BYTES = 16;

/**
 * The keys under which personal values rest: AES-256-GCM, a nonce of its own for each value, and a blind index by HMAC-SHA-256 where
 * a value is searched for. The first key seals; the others open what was sealed before.
 * Source: NIST SP 800-38D (2007), section 8.2.2 (random nonces of 96 bits: at most 2^32 values a key); RFC 5869 (2010), HKDF; RFC 2104 (1997), HMAC
 */
export class Keyring {
	private readonly keys: ReadonlyMap<string, DataKey>;
	/** The same people are read again and again in a sweep: what was opened last is remembered. */
	private recent = new Map<string, Opened>();
	private earlier = new Map<string, Opened>();

	/** @param texts at least one key as `isDataKey` takes it, the one that seals first */
	constructor(texts: readonly string[]) {
		const keys = texts.map(keyFrom);
		if (keys.length === 0) throw new DefectError("a keyring needs at least one key");
		this.keys = new Map(keys.map((key) => [key.id, key]));
	}

	/** Of every key, the sealing one first. */
	get ids(): readonly string[] {
		return [...this.keys.keys()];
	}

	/**
	 * @param label where the value rests, `table.column`: sealed for one column it can't be opened in another
	 * @param blind how it is searched for; none: it isn't
	 */
	seal(label: string, text: string, blind?: BlindKind): string {
		const key = this.first;
		const head = headOf(blind ? blindUnder(key, blind, text) : "", key.id);
		const nonce = freshNonce();
		const cipher = createCipheriv("aes-256-gcm", key.sealing, nonce, { authTagLength: TAG_BYTES });
		cipher.setAAD(associated(head, label));
		const sealed = Buffer.concat([nonce, cipher.update(text, "utf8"), cipher.final(), cipher.getAuthTag()]);
		return head + sealed.toString("base64url");
	}

	/** @throws DefectError where it isn't what was sealed for this column under one of the keys */
	open(label: string, sealed: string): string {
		const known = this.recent.get(sealed) ?? this.earlier.get(sealed);
		if (known?.label === label) return known.text;
		const text = this.openedAnew(label, sealed);
		if (this.recent.size >= MOST_REMEMBERED) [this.earlier, this.recent] = [this.recent, new Map()];
		this.recent.set(sealed, { label, text });
		return text;
	}

	private openedAnew(label: string, sealed: string): string {
		const envelope = envelopeIn(sealed);
		const key = envelope && this.keys.get(envelope.keyId);
		if (!key) throw new DefectError(`${label} holds a value that was sealed under none of the configured keys`);
		try {
			return opened(key, label, envelope);
		} catch (cause) {
			throw new DefectError(
				`${label} holds a value that was changed since it was sealed, or that was sealed for another column`,
				{
					cause,
				},
			);
		}
	}

	/** @returns what stands in envelopes of such a value, under each of the keys */
	blinds(kind: BlindKind, text: string): string[] {
		return [...this.keys.values()].map((key) => blindUnder(key, kind, text));
	}

	/** Whether a value is sealed under the key that seals now. */
	isFresh(sealed: string): boolean {
		return isEnvelope(sealed) && envelopeIn(sealed)?.keyId === this.first.id;
	}

	private get first(): DataKey {
		return this.keys.values().next().value as DataKey;
	}
}

function keyFrom(text: string): DataKey {
	if (!isDataKey(text)) throw new InputError("settings-refused", `A data key ${DATA_KEY_RIGHT}.`);
	const bytes = Buffer.from(text, text.length === 64 ? "hex" : "base64");
	const derived = (what: string, length: number) => Buffer.from(hkdfSync("sha256", bytes, "", `jarwatch ${what} 1`, length));
	return {
		id: derived("key id", 6).toString("base64url"),
		sealing: createSecretKey(derived("sealing", KEY_BYTES)),
		blinding: createSecretKey(derived("blind index", KEY_BYTES)),
	};
}

function opened({ sealing }: DataKey, label: string, { head, sealed }: Envelope): string {
	const bytes = Buffer.from(sealed, "base64url");
	const decipher = createDecipheriv("aes-256-gcm", sealing, bytes.subarray(0, NONCE_BYTES), { authTagLength: TAG_BYTES });
	decipher.setAAD(associated(head, label));
	decipher.setAuthTag(bytes.subarray(-TAG_BYTES));
	return decipher.update(bytes.subarray(NONCE_BYTES, -TAG_BYTES), undefined, "utf8") + decipher.final("utf8");
}

function associated(head: string, label: string): Buffer {
	return Buffer.from(`${head}${label}`, "utf8");
}

function blindUnder({ blinding }: DataKey, kind: BlindKind, text: string): string {
	const mac = createHmac("sha256", blinding)
		.update(`${kind}\0${normalised(kind, text)}`)
		.digest();
	return mac.subarray(0, BLIND_BYTES).toString("base64url");
}

/** One call for the system's chance costs as much as sealing a value: nonces are cut from a pool. */
const pool = Buffer.alloc(NONCE_BYTES * 512);
let used = pool.length;

function freshNonce(): Buffer {
	if (used === pool.length) {
		randomFillSync(pool);
		used = 0;
	}
	used += NONCE_BYTES;
	return Buffer.from(pool.subarray(used - NONCE_BYTES, used));
}
