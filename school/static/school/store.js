// @ts-check
/* What this device keeps: events until the school has answered for each, what is known of lessons, small facts. */
import * as memory from "./memory.js";

/**
 * @typedef {memory.TapEvent} TapEvent
 * @typedef {memory.Change} Change
 * @typedef {memory.Result} Result
 * @typedef {{key: string, person: string, lesson: string, seq: number, since: number, ready?: boolean,
 *   title?: string, about?: string, url?: string, signed?: boolean, here?: boolean}} LessonRow
 * @typedef {{get: Function, all: Function, in: Function, id: Function, put: Function, delete: Function}} Table
 */

const NAMES = ["events", "lessons", "facts"];
/** @type {Promise<IDBDatabase>|null} */
let opening = null;
/** @type {Record<string, Table>|null} */
let unkept = null;
/** What this page knows of the storage it began with: another mark in it, or none, and it was cleared meanwhile. */
let mark = "",
  ownDevice = "";

/** @returns {Promise<IDBDatabase>} */
const open = () =>
  new Promise((resolve, reject) => {
    const ask = indexedDB.open("training-record", 1);
    ask.onupgradeneeded = () => {
      const events = ask.result.createObjectStore("events", { keyPath: "n", autoIncrement: true });
      events.createIndex("id", "id", { unique: true });
      events.createIndex("state", "state");
      ask.result.createObjectStore("lessons", { keyPath: "key" });
      ask.result.createObjectStore("facts", { keyPath: "key" });
    };
    ask.onsuccess = () => {
      ask.result.onclose = ask.result.onversionchange = () => {
        ask.result.close();
        opening = null;
      };
      resolve(ask.result);
    };
    ask.onerror = () => reject(ask.error);
    ask.onblocked = () => reject(new Error("another page holds the storage of this device"));
  });

/** @param {IDBRequest} request */
const requestResult = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

/**
 * @param {IDBObjectStore} store
 * @returns {Table}
 */
const table = (store) => ({
  get: (/** @type {any} */ key) => requestResult(store.get(key)),
  all: () => requestResult(store.getAll()),
  in: (/** @type {string} */ state) => requestResult(store.index("state").getAll(state)),
  id: (/** @type {string} */ id) => requestResult(store.index("id").get(id)),
  put: (/** @type {any} */ row) => requestResult(store.put(row)),
  delete: (/** @type {any} */ key) => requestResult(store.delete(key)),
});

/**
 * @param {string} key
 * @returns {Table}
 */
const memoryTable = (key) => {
  const rows = new Map();
  let last = 0;
  return {
    get: async (/** @type {any} */ name) => rows.get(name),
    all: async () => [...rows.values()],
    in: async (/** @type {string} */ state) => [...rows.values()].filter((row) => row.state === state),
    id: async (/** @type {string} */ id) => [...rows.values()].find((row) => row.id === id),
    put: async (/** @type {any} */ row) => rows.set((row[key] ??= ++last), row),
    delete: async (/** @type {any} */ name) => rows.delete(name),
  };
};

/**
 * Runs work in one transaction. Resolves once it is on the disk: what is shown as noted survives a flat battery.
 * @template T
 * @param {"readonly"|"readwrite"} mode
 * @param {(tables: Record<string, Table>) => Promise<T>} work
 * @returns {Promise<T>}
 */
async function inTransaction(mode, work) {
  if (unkept) return work(unkept);
  try {
    return await once(mode, work);
  } catch (error) {
    // A storage that is cleared under an open page ends what is under way in it: once more, in the new one.
    if (!/^(InvalidState|Abort|NotFound|Unknown)Error$/.test(/** @type {Error} */ (error).name)) throw error;
    opening = null;
    return once(mode, work);
  }
}

/**
 * @template T
 * @param {"readonly"|"readwrite"} mode
 * @param {(tables: Record<string, Table>) => Promise<T>} work
 * @returns {Promise<T>}
 */
async function once(mode, work) {
  /** @type {IDBDatabase} */
  let database;
  try {
    database = await (opening ??= open());
  } catch (error) {
    opening = null;
    throw error;
  }
  return new Promise((resolve, reject) => {
    const step = database.transaction(NAMES, mode, { durability: "strict" });
    /** @type {T} */
    let result;
    step.oncomplete = () => resolve(result);
    step.onabort = step.onerror = () => reject(step.error || new DOMException("not kept", "AbortError"));
    work(Object.fromEntries(NAMES.map((name) => [name, table(step.objectStore(name))]))).then(
      (value) => {
        result = value;
      },
      (error) => {
        try {
          step.abort();
        } catch {
          /* over already */
        }
        reject(error);
      },
    );
  });
}

/**
 * Whether this device can keep anything: tried by writing, because only that tells.
 * @returns {Promise<boolean>} whether the storage is new: nothing was ever kept in it, or it was deleted since
 */
export const tryStorage = () =>
  inTransaction("readwrite", async ({ facts }) => {
    const before = await facts.get("mark");
    mark = before?.value ?? crypto.randomUUID();
    ownDevice = (await facts.get("device"))?.value ?? crypto.randomUUID();
    await facts.put({ key: "mark", value: mark });
    await facts.put({ key: "device", value: ownDevice });
    return !before;
  });

/** The name of this device towards the school. */
export const device = () => ownDevice;

/**
 * Put back what this page made and the storage holds no more.
 * @returns {Promise<boolean>} whether the storage was cleared under this page
 */
export async function restore() {
  if (unkept) return false;
  const missing = await inTransaction("readonly", async ({ facts, events }) => {
    if ((await facts.get("mark"))?.value !== mark) return true;
    if (!memory.all().length) return false;
    // Two questions and not one for each row: this is asked before every sending.
    const there = new Set();
    for (const state of ["waiting", "refused"])
      for (const row of await events.in(state)) there.add(`${state} ${row.id}`);
    return memory.all().some((row) => !there.has(`${row.state} ${row.id}`));
  });
  return missing && putBack();
}

const putBack = () =>
  inTransaction("readwrite", async ({ facts, events, lessons }) => {
    const cleared = (await facts.get("mark"))?.value !== mark;
    await facts.put({ key: "mark", value: mark });
    await facts.put({ key: "device", value: ownDevice });
    for (const { n, ...row } of memory.all()) {
      const there = await events.id(row.id);
      // Another page of this browser has sent it.
      if (there && there.state !== row.state) memory.forget(row.id);
      if (there) continue;
      const key = rowKey(row.person, row.lesson);
      await lessons.put(memory.atLeast(key, await rowOf(lessons, key, row)));
      await events.put(row);
    }
    return cleared;
  });

/** From here on nothing is kept: each tap lives in this page until the school has answered. */
export const useMemory = () => {
  unkept ??= { events: memoryTable("n"), lessons: memoryTable("key"), facts: memoryTable("key") };
  ownDevice ||= crypto.randomUUID();
};
export const isInMemory = () => unkept !== null;

const rowKey = (/** @type {string} */ person, /** @type {string} */ lesson) => `${person}/${lesson}`;

/**
 * What is known of a lesson, or what is known of one that was never open here.
 * @param {Table} lessons
 * @param {string} key
 * @param {{person: string, lesson: string}} of
 * @returns {Promise<LessonRow>}
 */
const rowOf = async (lessons, key, { person, lesson }) =>
  (await lessons.get(key)) ?? { key, person, lesson, seq: 0, since: 0 };

/**
 * Keep an event with the next number of its lesson.
 * @param {Omit<TapEvent, "seq"|"at"|"id"|"state">} event
 * @returns {Promise<TapEvent>}
 */
export async function addEvent(event) {
  const added = await inTransaction("readwrite", async ({ lessons, events }) => {
    const key = rowKey(event.person, event.lesson);
    const row = memory.atLeast(key, await rowOf(lessons, key, event));
    row.seq += 1;
    await lessons.put(memory.atLeast(key, row));
    const seen = Math.max(row.since, event.seen ?? 0);
    /** @type {TapEvent} */
    const kept = { ...event, seen, id: crypto.randomUUID(), at: Date.now(), seq: row.seq, state: "waiting" };
    if (kept.n === undefined) delete kept.n;
    await events.put(kept);
    return kept;
  });
  memory.remember(added);
  return added;
}

/**
 * What the school has not answered for: of the storage, and of this page where the storage lost it.
 * @param {string} person
 */
export async function unanswered(person) {
  const kept = await events(person, "waiting"),
    ids = new Set(kept.map((row) => row.id));
  return [...kept, ...memory.waiting().filter((row) => row.person === person && !ids.has(row.id))];
}

/**
 * In the order in which they were made.
 * @param {string} person
 * @param {TapEvent["state"]} state
 * @returns {Promise<TapEvent[]>}
 */
export const events = (person, state) =>
  inTransaction("readonly", async (tables) =>
    (await tables.events.in(state)).filter((/** @type {TapEvent} */ row) => row.person === person),
  );

/** By the numbers of their lesson: what was put back has a later place in the storage. */
export const inOrder = (/** @type {TapEvent[]} */ rows) => rows.sort((a, b) => a.seq - b.seq);

const SEALED = "sealed/";
/**
 * How many taps of anybody else wait on this device, sealed for the most part.
 * @param {string} person
 */
export const countOthersWaiting = (person) =>
  inTransaction("readonly", async ({ events, facts }) => {
    let count = (await events.in("waiting")).filter((/** @type {TapEvent} */ row) => row.person !== person).length;
    for (const { key, value } of await facts.all())
      if (key.startsWith(SEALED) && key !== SEALED + person)
        for (const box of value) count += /** @type {import("./seal.js").Box} */ (box).waiting;
    return count;
  });

/** Everything that is not on record at the school, of everybody; only this is worth sealing. */
export const unrecorded = () =>
  inTransaction("readonly", async ({ events }) =>
    (await events.all()).filter((/** @type {TapEvent} */ row) => row.state !== "noted"),
  );

/**
 * Put a sealed box in the place of the events that it holds.
 * @param {string} person
 * @param {TapEvent[]} taken
 * @param {import("./seal.js").Box} box
 */
export const replaceBySealed = (person, taken, box) =>
  inTransaction("readwrite", async ({ events, facts }) => {
    const key = SEALED + person;
    await facts.put({ key, value: [...((await facts.get(key))?.value ?? []), box] });
    for (const row of taken) await events.delete(row.n);
  });

/**
 * @param {string} person
 * @returns {Promise<import("./seal.js").Box[]>}
 */
export const sealedBoxes = async (person) => (await fact(SEALED + person)) ?? [];

/**
 * Put what a person had sealed back among the events, each once.
 * @param {string} person
 * @param {TapEvent[]} rows
 */
export const takeOutSealed = (person, rows) =>
  inTransaction("readwrite", async ({ events, facts }) => {
    for (const { n, ...row } of rows) if (!(await events.id(row.id))) await events.put(row);
    await facts.delete(SEALED + person);
  });

const FACTS_WITHOUT_NAMES = /^(mark|device|evictable-told|expired|(seal|sealed)\/\d+)$/;
/** Leave no name, title or text in plain: of lessons their numbers stay, so that none is given twice. */
export const deletePlain = () =>
  inTransaction("readwrite", async ({ events, lessons, facts }) => {
    for (const row of await events.in("noted")) await events.delete(row.n);
    for (const { key, person, lesson, seq, since } of await lessons.all())
      await lessons.put({ key, person, lesson, seq, since });
    for (const { key } of await facts.all()) if (!FACTS_WITHOUT_NAMES.test(key)) await facts.delete(key);
  });

/**
 * Write down what the school answered: each event noted or refused, and what others changed.
 * @param {string} person
 * @param {string} lesson
 * @param {{since: number, results: Result[], changes: Change[]}} answer
 */
export async function applyAnswer(person, lesson, answer) {
  await writeAnswer(person, lesson, answer);
  memory.applyAnswer(answer);
}

/** @type {typeof applyAnswer} */
const writeAnswer = (person, lesson, answer) =>
  inTransaction("readwrite", async ({ lessons, events: rows }) => {
    const mine = (/** @type {TapEvent} */ row) => row.person === person && row.lesson === lesson;
    const all = (await rows.in("waiting")).filter(mine),
      before = (await rows.in("refused")).filter(mine);
    const results = new Map(answer.results.map((result) => [result.id, result]));
    const tell = { person, lesson, title: all.at(-1)?.title ?? "", state: "told", kind: "change" };
    for (const row of all) {
      const result = results.get(row.id);
      if (!result || result.outcome === "waits") continue;
      const refused = result.outcome === "refused";
      Object.assign(row, {
        state: refused ? "refused" : "noted",
        tap: answer.since,
        said: result.said,
        other: result.other,
      });
      await rows.put(row);
      if (refused) continue;
      if (result.said || result.other)
        await rows.put({
          ...tell,
          id: crypto.randomUUID(),
          field: row.field,
          value: row.value,
          said: result.said,
          other: result.other,
        });
      // The person wrote the field anew, so the version that was refused before has been dealt with.
      for (const old of before) if (old.field && old.field === row.field) await rows.delete(old.n);
    }
    const replaced = new Set(answer.results.filter((result) => result.other).map((result) => result.other?.field));
    for (const change of answer.changes) {
      if (!replaced.has(change.field))
        await rows.put({
          ...tell,
          id: crypto.randomUUID(),
          field: change.field,
          value: change.value,
          other: change,
        });
    }
    const key = rowKey(person, lesson);
    await lessons.put(memory.atLeast(key, { ...(await rowOf(lessons, key, { person, lesson })), since: answer.since }));
  });

/**
 * Take away events: dismissed by the person, or shown by a page that holds them.
 * @param {(row: TapEvent) => boolean} which
 */
export const deleteEvents = (which) =>
  inTransaction("readwrite", async ({ events: rows }) => {
    for (const row of await rows.all()) {
      if (!which(row)) continue;
      await rows.delete(row.n);
      memory.forget(row.id);
    }
  });

/** Put refused taps into another lesson: new events there, the old ones gone, both or neither. */
export const moveTaps = (/** @type {TapEvent[]} */ taps, /** @type {{lesson: string, title: string}} */ to) =>
  inTransaction("readwrite", async ({ lessons, events: rows }) => {
    const person = taps[0].person,
      key = rowKey(person, to.lesson);
    const row = memory.atLeast(key, await rowOf(lessons, key, { person, lesson: to.lesson }));
    for (const { n, said, other, tap, ...old } of taps) {
      row.seq += 1;
      await rows.put({ ...old, ...to, id: crypto.randomUUID(), seq: row.seq, state: "waiting" });
      await rows.delete(n);
      memory.forget(old.id);
    }
    await lessons.put(memory.atLeast(key, row));
  });

/**
 * @param {string} person
 * @param {string} lesson
 * @param {Partial<LessonRow>} [more]
 * @returns {Promise<LessonRow>}
 */
export const lessonRow = (person, lesson, more) =>
  inTransaction(more ? "readwrite" : "readonly", async ({ lessons }) => {
    const key = rowKey(person, lesson);
    const row = memory.atLeast(key, { ...(await rowOf(lessons, key, { person, lesson })), ...more });
    if (more) await lessons.put(row);
    return row;
  });

/**
 * @param {string} person
 * @returns {Promise<LessonRow[]>}
 */
export const lessonRows = (person) =>
  inTransaction("readonly", async (tables) =>
    (await tables.lessons.all()).filter((/** @type {LessonRow} */ row) => row.person === person),
  );

/**
 * @param {string} person
 * @param {string} lesson
 */
export const forgetLesson = (person, lesson) =>
  inTransaction("readwrite", ({ lessons }) => lessons.delete(rowKey(person, lesson)));

/**
 * Read a fact, or write it.
 * @param {string} key
 * @param {any} [value]
 */
export const fact = (key, value) =>
  inTransaction(value === undefined ? "readonly" : "readwrite", async ({ facts }) => {
    if (value === undefined) return (await facts.get(key))?.value;
    await facts.put({ key, value });
    return value;
  });
