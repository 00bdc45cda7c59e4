// @ts-check
/* Sends what waits on this device: one lesson after the other, in order, in batches, until the school has answered. */
import * as memory from "./memory.js";
import * as store from "./store.js";

const MOST = 50,
  PATIENCE = 10000,
  FIRST_WAIT = 1000,
  LONGEST_WAIT = 30000;
const html = document.documentElement;
const NO_LESSON = "00000000-0000-0000-0000-000000000000";

/** Whose events are sent. On the page that holds nothing of anybody it is told who used the device last. */
export let person = html.dataset.person ?? "";
export const setPerson = (/** @type {string} */ somebody) => {
  person = somebody;
};
export const fromTablet = html.dataset.fromTablet !== undefined;

/**
 * Whether the storage was cleared under this page, whether the browser may clear it, and whether a lesson waits for its
 * beginning.
 */
export const trouble = { cleared: false, evictable: false, unbegun: false };

/** Taps that were made and are not kept yet: nothing is called saved before them. */
export const unstored = { count: 0 };

/** @type {{state: "unknown"|"ok"|"none"|"out"|"other"|"wrong", said: string}} */
export const contact = { state: fromTablet ? "none" : "unknown", said: "" };

/** Whether the last try to speak with the school failed. */
export const isAway = () => contact.state !== "ok" && contact.state !== "unknown";

/** @type {Set<() => void>} */
const watchers = new Set();
/**
 * @typedef {(answer: any, sent: store.TapEvent[]) => Promise<void>} Answered
 * @typedef {{lesson: string, circuit: () => number|null, answered: Answered}} Open
 */
/** @type {Open|null} */
let page = null;
/** @type {""|"changed"|"all"} */
let asked = "";
let busy = false,
  again = false,
  wait = FIRST_WAIT,
  timer = 0,
  token = "";
const channel = "BroadcastChannel" in window ? new BroadcastChannel("training-record") : null;

/**
 * Called whenever something was kept, answered or lost.
 * @param {() => void} watcher
 */
export const watch = (watcher) => watchers.add(watcher);
export const notify = () => watchers.forEach((watcher) => watcher());
/**
 * The lesson page that is open, to be told what the school answers.
 * @param {Open} open
 */
export const setOpenLesson = (open) => {
  page = open;
};
/**
 * Send now.
 * @param {""|"changed"|"all"} [show] ask for the open lesson even if nothing waits
 */
export const sendNow = (show = "") => {
  if (show && asked !== "all") asked = show;
  if (busy) {
    again = true;
    return;
  }
  void run();
};

async function run() {
  if (!person) return;
  busy = true;
  clearTimeout(timer);
  try {
    const turn = () => sendAll();
    // Two pages of one browser never send the same lesson side by side.
    await (navigator.locks ? navigator.locks.request("training-record", turn) : turn());
  } finally {
    busy = false;
    notify();
  }
  if (again) {
    again = false;
    void run();
  }
}

async function sendAll() {
  /** Lessons whose beginning has not reached the school: their taps wait, those of others go on. */
  const unbegun = new Set();
  for (;;) {
    again = false;
    const waiting = (await store.unanswered(person)).filter((event) => !unbegun.has(event.lesson));
    if (!waiting.length && unbegun.size) return sendLater();
    if (!waiting.length && !(asked && page)) return;
    const lesson = waiting.length ? waiting[0].lesson : (page?.lesson ?? "");
    const sent = store.inOrder(waiting.filter((event) => event.lesson === lesson)).slice(0, MOST);
    const answer = await post(lesson, sent);
    if (!answer) return sendLater();
    trouble.unbegun = answer.state === "waits";
    if (trouble.unbegun) unbegun.add(lesson);
    else wait = FIRST_WAIT;
    await store.applyAnswer(person, lesson, answer);
    if (sent.length) channel?.postMessage({ lesson });
    if (page && page.lesson === lesson) await page.answered(answer, sent);
    notify();
  }
}

function sendLater() {
  timer = window.setTimeout(sendNow, wait + Math.random() * 300);
  wait = Math.min(wait * 2, LONGEST_WAIT);
}

/** Whether the storage still holds what this page made; if not, it is put back from the memory of the page. */
export async function checkStorage() {
  if (!person || !(await store.restore())) return false;
  trouble.cleared = true;
  notify();
  return true;
}

/**
 * @param {string} lesson
 * @param {store.TapEvent[]} events
 */
async function post(lesson, events) {
  const open = page && page.lesson === lesson ? page : null;
  // What another page of this browser made is not shown on this one yet.
  const others = events.some((event) => !memory.has(event.id));
  const show = open ? (others ? "all" : asked || "changed") : "";
  const row = await store.lessonRow(person, lesson);
  const body = JSON.stringify({
    person: Number(person),
    device: store.device(),
    since: row.since,
    sent: Date.now(),
    show,
    circuit: open ? open.circuit() : null,
    events: events.map(({ id, kind, seq, at, seen, field, value, of, begin }) => ({
      id,
      kind,
      seq,
      at,
      seen,
      field,
      value,
      of,
      ...begin,
    })),
  });
  const url = (html.dataset.batch ?? "").replace(NO_LESSON, lesson);
  let reply = await requestSchool(url, { method: "POST", body });
  if (reply?.status === 403 && (await renewToken())) reply = await requestSchool(url, { method: "POST", body });
  if (!reply) return null;
  if (reply.ok) {
    Object.assign(contact, { state: "ok", said: "" });
    if (open) asked = "";
    return reply.json();
  }
  const said = await reply.json().then(
    (/** @type {any} */ answer) => answer.sentence,
    () => "",
  );
  if (reply.status === 409) Object.assign(contact, { state: "other", said });
  else if (reply.status >= 502 && reply.status <= 504) Object.assign(contact, { state: "none", said: "" });
  else if (contact.state !== "out")
    Object.assign(contact, { state: "wrong", said: said || `The school answered ${reply.status}.` });
  return null;
}

/** An answer of the school, null for none. A session that has ended sends elsewhere: that is no answer. */
async function requestSchool(/** @type {string} */ url, /** @type {RequestInit} */ more = {}) {
  const ending = new AbortController(),
    limit = setTimeout(() => ending.abort(), PATIENCE);
  try {
    token ||= JSON.parse(document.body.getAttribute("hx-headers") || "{}")["X-CSRFToken"] || "";
    const reply = await fetch(url, {
      ...more,
      redirect: "manual",
      cache: "no-store",
      signal: ending.signal,
      headers: { "X-CSRFToken": token, "Content-Type": "application/json", Accept: "application/json" },
    });
    if (reply.type !== "opaqueredirect" && reply.status !== 401) return reply;
    Object.assign(contact, { state: "out", said: "" });
  } catch {
    Object.assign(contact, { state: "none", said: "" });
  } finally {
    clearTimeout(limit);
  }
  return null;
}

/** The token of a form is made anew when somebody logs in: fetch the one of now, if it is still the same person. */
async function renewToken() {
  const reply = await requestSchool(html.dataset.contact ?? "");
  const now = reply?.ok ? await reply.json() : null;
  if (!now) return false;
  if (String(now.person) !== person) {
    Object.assign(contact, { state: "other", said: "" });
    return false;
  }
  token = now.token;
  return true;
}

/** Whether the school answers now, as this person. */
export const checkSession = async () => {
  const answered = await renewToken();
  if (answered) Object.assign(contact, { state: "ok", said: "" });
  notify();
  return answered;
};

/** This person is logged in no more: their other pages in this browser leave too. */
export const tellLeft = () => channel?.postMessage({ left: person });

export function start() {
  const retryNow = () => {
    wait = FIRST_WAIT;
    void checkStorage().finally(() => sendNow(page ? "changed" : ""));
  };
  window.addEventListener("online", retryNow);
  window.addEventListener("pageshow", (event) => event.persisted && retryNow());
  window.addEventListener("offline", () => {
    contact.state = "none";
    notify();
  });
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && retryNow());
  channel?.addEventListener("message", ({ data }) => {
    if (data.hello !== undefined) return data.hello === person && retryNow(); // somebody logged in on another page
    if (data.left) return data.left === person && location.replace(html.dataset.login ?? "/");
    // What this page made may be among it.
    if (page && data.lesson === page.lesson) void checkStorage().finally(() => sendNow("all"));
    notify();
  });
  if (!fromTablet) channel?.postMessage({ hello: person });
}
