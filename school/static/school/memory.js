// @ts-check
/* What this page made and the school has not answered for: its own list, whatever becomes of the device's storage. */

/**
 * One event. `before` is what stood in the field on this device; `of` the tap that an undo takes back; `seen` the
 * school's last tap that this device knew when it was made; `tap` the one when it answered; `other` the other version.
 * @typedef {{n?: number, id: string, person: string, lesson: string, enrolment: string, title: string, seq: number,
 *   at: number, kind: "begin"|"entry"|"undo"|"change", field: string, value: string, before: string, of?: string,
 *   seen?: number, begin?: Record<string, unknown>, state: "waiting"|"noted"|"refused"|"told", tap?: number,
 *   said?: string, other?: Change|null}} TapEvent
 * @typedef {{words: string, field: string, before: string, value: string, by: string, at: string}} Change
 * @typedef {{id: string, outcome: string, said: string, other: Change|null}} Result
 */

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
 * @param {{results: Result[], since: number}} answer
 */
export function applyAnswer(answer) {
  for (const { id, outcome, said, other } of answer.results) {
    const row = rows.get(id);
    if (!row || outcome === "waits") continue;
    if (outcome === "refused") Object.assign(row, { state: "refused", tap: answer.since, said, other });
    else rows.delete(id);
  }
}
