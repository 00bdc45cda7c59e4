// @ts-check
/* Seals what must not lie open on this device: anybody can seal for a person, and only that person's school opens it.
   ECDH on P-256 with a key of the moment, HKDF with SHA-256, AES-256-GCM (school/accounts/tablets.py). */

/** @typedef {{from: Uint8Array, iv: Uint8Array, data: ArrayBuffer, waiting: number}} Box */

const CURVE = { name: "ECDH", namedCurve: "P-256" };
const INFO = new TextEncoder().encode("training-record tablet");

/** Whether this browser can: it needs https, or the machine itself. */
export const canSeal = () => Boolean(globalThis.crypto?.subtle);

const bytes = (/** @type {string} */ base64url) =>
  Uint8Array.from(atob(base64url.replace(/-/g, "+").replace(/_/g, "/")), (sign) => sign.charCodeAt(0));

/**
 * @param {CryptoKey} own
 * @param {CryptoKey} other
 * @param {Uint8Array} salt
 * @param {"encrypt"|"decrypt"} use
 */
async function sharedKey(own, other, salt, use) {
  const bits = await crypto.subtle.deriveBits({ name: "ECDH", public: other }, own, 256);
  const base = await crypto.subtle.importKey("raw", bits, "HKDF", false, ["deriveKey"]);
  const how = { name: "HKDF", hash: "SHA-256", salt, info: INFO };
  return crypto.subtle.deriveKey(how, base, { name: "AES-GCM", length: 256 }, false, [use]);
}

/**
 * @param {string} point the public key of the person
 * @param {{state: string}[]} rows
 * @returns {Promise<Box>}
 */
export async function seal(point, rows) {
  const person = await crypto.subtle.importKey("raw", bytes(point), CURVE, false, []);
  const own = await crypto.subtle.generateKey(CURVE, false, ["deriveBits"]);
  const from = new Uint8Array(await crypto.subtle.exportKey("raw", own.publicKey)),
    iv = crypto.getRandomValues(new Uint8Array(12));
  const key = await sharedKey(own.privateKey, person, from, "encrypt"),
    text = new TextEncoder().encode(JSON.stringify(rows));
  const data = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, text);
  return { from, iv, data, waiting: rows.filter((row) => row.state === "waiting").length };
}

/**
 * @param {Box} box
 * @param {JsonWebKey[]} keys the one of now, and those that the school had before
 * @returns {Promise<any[]>}
 */
export async function unseal(box, keys) {
  for (const jwk of keys) {
    const own = await crypto.subtle.importKey("jwk", jwk, CURVE, false, ["deriveBits"]);
    const from = await crypto.subtle.importKey("raw", box.from, CURVE, false, []);
    const key = await sharedKey(own, from, box.from, "decrypt");
    try {
      const text = await crypto.subtle.decrypt({ name: "AES-GCM", iv: box.iv }, key, box.data);
      return JSON.parse(new TextDecoder().decode(text));
    } catch (error) {
      if (/** @type {Error} */ (error).name !== "OperationError") throw error; // of another key: the next one
    }
  }
  throw new Error("what is sealed on this tablet was not sealed for the keys of this school");
}
