// @ts-check
/* What this page made and the school has not answered for: its own list, whatever becomes of the device's storage. */

/** @typedef {import("./store.js").TapEvent} TapEvent */

/** @type {Map<string, TapEvent>} */
const rows = new Map();
/**
 * The last number of each lesson, and the last tap of the school that it knows.
 * @type {Map<string, {seq: number, since: number}>}
 */
const known = new Map();

export const remember = (/** @type {TapEvent} */ row) => {
  rows.set(row.id, { ...row });
};
export const forget = (/** @type {string} */ id) => rows.delete(id);
export const has = (/** @type {string} */ id) => rows.has(id);
export const isWaiting = (/** @type {string} */ id) => rows.get(id)?.state === "waiting";
export const all = () => [...rows.values()];
export const waiting = () => all().filter((row) => row.state === "waiting");

/**
 * The greater of what the storage says of a lesson and what this page knows: a storage that was cleared starts anew.
 * @template {{seq: number, since: number}} Row
 * @param {string} key
 * @param {Row} row
 * @returns {Row}
 */
export function atLeast(key, row) {
  const { seq, since } = known.get(key) ?? { seq: 0, since: 0 };
  const both = { ...row, seq: Math.max(row.seq, seq), since: Math.max(row.since, since) };
  known.set(key, { seq: both.seq, since: both.since });
  return both;
}

/**
 * What the school answered: a refused event stays until it is dismissed, one that waits for its lesson stays.
 * @param {{results: import("./store.js").Result[], since: number}} answer
 */
export function applyAnswer(answer) {
  for (const { id, outcome, said, other } of answer.results) {
    const row = rows.get(id);
    if (!row || outcome === "waits") continue;
    if (outcome === "refused") Object.assign(row, { state: "refused", tap: answer.since, said, other });
    else rows.delete(id);
  }
}
