// Sealing to the server's public key: hybrid public key encryption in base
// mode, in one step (RFC 9180, sections 4.1, 5.1.1 and 6.1), with
// DHKEM(P-256, HKDF-SHA256), HKDF-SHA256 and AES-128-GCM. The names are the RFC's.

const utf8 = (s) => new TextEncoder().encode(s);

const concat = (...parts) => {
	const all = parts.map((p) => (typeof p === "string" ? utf8(p) : new Uint8Array(p)));
	const out = new Uint8Array(all.reduce((n, p) => n + p.length, 0));
	all.reduce((at, p) => (out.set(p, at), at + p.length), 0);
	return out;
};

const kemSuite = concat("KEM", [0, 0x10]);
const suite = concat("HPKE", [0, 0x10, 0, 1, 0, 1]);

// HKDF-Extract is one HMAC; HKDF-Expand is one too for up to 32 bytes (RFC 5869).
const hmac = async (key, data) => {
	const raw = key.length ? key : new Uint8Array(32);
	const k = await crypto.subtle.importKey("raw", raw, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
	return new Uint8Array(await crypto.subtle.sign("HMAC", k, data));
};
const labeledExtract = (id, salt, label, ikm) => hmac(salt, concat("HPKE-v1", id, label, ikm));
const labeledExpand = async (id, prk, label, info, n) =>
	(await hmac(prk, concat([0, n], "HPKE-v1", id, label, info, [1]))).slice(0, n);

// seal gives the encapsulated key and the ciphertext, one after the other.
async function seal(publicKey, info, plaintext) {
	const curve = { name: "ECDH", namedCurve: "P-256" };
	const pkR = await crypto.subtle.importKey("raw", publicKey, curve, false, []);
	const e = await crypto.subtle.generateKey(curve, true, ["deriveBits"]);
	const dh = await crypto.subtle.deriveBits({ name: "ECDH", public: pkR }, e.privateKey, 256);
	const enc = await crypto.subtle.exportKey("raw", e.publicKey);

	const eaePrk = await labeledExtract(kemSuite, "", "eae_prk", dh);
	const shared = await labeledExpand(kemSuite, eaePrk, "shared_secret", concat(enc, publicKey), 32);

	const pskIdHash = await labeledExtract(suite, "", "psk_id_hash", "");
	const infoHash = await labeledExtract(suite, "", "info_hash", info);
	const context = concat([0], pskIdHash, infoHash);
	const secret = await labeledExtract(suite, shared, "secret", "");
	const key = await labeledExpand(suite, secret, "key", context, 16);
	const iv = await labeledExpand(suite, secret, "base_nonce", context, 12);

	const aead = await crypto.subtle.importKey("raw", key, "AES-GCM", false, ["encrypt"]);
	return concat(enc, await crypto.subtle.encrypt({ name: "AES-GCM", iv }, aead, utf8(plaintext)));
}
