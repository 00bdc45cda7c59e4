// @ts-check
/* The lesson page: each tap becomes an event that is kept on this device first, then shown as noted, then sent. */
import * as circuits from "./circuits.js";
import { rememberFocus } from "./focus.js";
import * as view from "./padview.js";
import * as memory from "../school/memory.js";
import * as sender from "../school/sender.js";
import * as store from "../school/store.js";
import { alarm, entry, showSaving } from "../school/notes.js";

const main = /** @type {HTMLElement|null} */ (document.querySelector("main[data-lesson]"));
const lesson = main?.dataset.lesson ?? "";
const pageData = document.getElementById("contact")?.dataset ?? {}; // as of when the page stands, and after which tap
const REST = 500; // numbers are noted once the fingers rest

/**
 * What waits and lies over the page, oldest first.
 * @type {store.TapEvent[]}
 */
let over = [];
/**
 * What stands in fields that were touched.
 * @type {Map<string, string>}
 */
let shown = new Map();
/**
 * Numbers still moving.
 * @type {Map<string, {input: HTMLInputElement, timer: number}>}
 */
const moving = new Map();
/**
 * Taps of a field that are not kept yet. An older one that is kept meanwhile is not shown over them.
 * @type {Map<string, number>}
 */
const newer = new Map();
/**
 * Taps are heard as soon as the page can be seen; they are kept once it is known what this device keeps already.
 * @type {() => void}
 */
let begun = () => {};
/** @type {Promise<void>} */
let chain = new Promise((done) => {
  begun = done;
});
let behind = false;
/** @type {{form: HTMLFormElement, key: HTMLElement|null}|null} */
let held = null;
/** When a circuit was closed: a finger that bounces would close the next one, which nobody flew. */
let closedAt = -Infinity;
const BOUNCE = 1000;

/**
 * @param {HTMLElement} input
 * @returns {string}
 */
const valueOf = (input) =>
  input instanceof HTMLInputElement && input.type === "checkbox" && !input.checked
    ? (input.dataset.off ?? "")
    : /** @type {HTMLInputElement} */ (input).value;

/**
 * What stood in a field before it was touched.
 * @param {string} field
 */
function before(field) {
  if (/^circuit\.\d+\./.test(field)) return circuits.before(field);
  const known = shown.get(field);
  if (known !== undefined) return known;
  for (const input of document.getElementsByName(field)) {
    if (input instanceof HTMLInputElement && input.type === "radio") {
      if (input.defaultChecked) return input.value;
    } else if (input instanceof HTMLInputElement && input.type === "checkbox") return input.defaultChecked ? "on" : "";
    else if (input instanceof HTMLSelectElement)
      return [...input.options].find((option) => option.defaultSelected)?.value ?? input.options[0]?.value ?? "";
    else if (input instanceof HTMLInputElement && input.type === "hidden") continue;
    else return /** @type {HTMLInputElement} */ (input).defaultValue;
  }
  return field.endsWith(".help") ? "none" : "";
}

/**
 * @param {string} field
 * @param {string} value
 */
function show(field, value) {
  shown.set(field, value);
  if (!field.startsWith("circuit.")) {
    if (!newer.get(field)) view.fill(field, value);
    return;
  }
  const [, number, what] = field.split(".");
  const changed = circuits.note(field, value);
  if (what === "closed" && (!value || Number(number) === view.onPad()))
    return view.turnTo(value ? circuits.next() : Number(number));
  for (const one of changed) if (!newer.get(one)) view.fill(one, circuits.value(one));
  view.drawChanged(changed);
}

const replay = () => {
  for (const event of over) if (event.field) show(event.field, event.value);
  showUndo();
};

/** What the school would refuse is refused at the key, in the same words; empty for what it takes. */
function refusal(/** @type {string} */ field, /** @type {string} */ value) {
  const [, number, what] = field.split(".");
  if (!field.startsWith("circuit.") || what !== "closed" || !value) return "";
  if (value === "on" && circuits.isEmpty(Number(number))) return `Not closed: nothing is tapped in circuit ${number}.`;
  return value === "on" ? view.tookOpen() : view.refusal(Number(number));
}

/** Keep an event, then show it. What could not be kept is taken off the page again, loudly. */
const note = (
  /** @type {string} */ field,
  /** @type {string} */ value,
  /** @type {Partial<store.TapEvent>} */ more = {},
) => {
  if (!field.endsWith(".closed")) closedAt = -Infinity; // what is tapped between two closings makes them two
  sender.unstored.count += 1;
  newer.set(field, (newer.get(field) ?? 0) + 1);
  showSaving();
  chain = chain
    .then(async () => {
      const old = before(field);
      newer.set(field, (newer.get(field) ?? 1) - 1);
      const closes = field.startsWith("circuit.") && field.endsWith(".closed") && value !== "";
      if ((old === value || (closes && old)) && more.kind !== "undo") return;
      const wrong = more.kind === "undo" ? "" : refusal(field, value);
      if (wrong) return view.say(wrong, true);
      const closing = closes ? view.summary(Number(field.split(".")[1])) : "";
      try {
        const event = await store.addEvent({
          person: sender.person,
          lesson,
          enrolment: main?.dataset.enrolment ?? "",
          title: document.title,
          kind: "entry",
          field,
          value,
          before: old,
          seen: Number(pageData.since),
          ...more,
        });
        over.push(event); // not around the await: an answer may have put another list in its place meanwhile
      } catch (error) {
        if (!newer.get(field)) view.fill(field, field.startsWith("circuit.") ? circuits.value(field) : old);
        alarm(
          `Not saved: this tablet has no space left or cannot save (${/** @type {Error} */ (error).message}).` +
            " Free some storage, then tap again.",
        );
        return;
      }
      view.say("");
      show(field, value);
      if (closing) view.say(`Circuit ${field.split(".")[1]} closed. ${closing}.`);
      showUndo();
      sender.sendNow("changed");
    })
    .catch((error) => {
      alarm(`Not saved: ${field.replace(/[._-]/g, " ")}. Reload the page; earlier entries are saved.`);
      reportError(error);
    })
    .finally(() => {
      sender.unstored.count -= 1;
      sender.notify();
    });
  return chain;
};

/** The tap that undo takes back: the last that waits here, else the school's last. */
function last() {
  const undone = new Set(over.filter((event) => event.kind === "undo").map((event) => event.of));
  const here = over.filter((event) => event.kind === "entry" && !undone.has(event.id)).at(-1);
  if (here) return { of: here.id, field: here.field, before: here.before, value: here.value };
  const form = /** @type {HTMLElement|null} */ (document.querySelector("#undo form"));
  const { tap, field, before: old, value } = form?.dataset ?? {};
  return tap && field && !undone.has(tap) ? { of: tap, field, before: old ?? "", value: value ?? "" } : null;
}

function showUndo() {
  const form = /** @type {HTMLFormElement|null} */ (document.querySelector("#undo form")),
    found = last();
  view.showUndo(found ? view.words(found.field, found.value) : "");
  if (!form || !over.length) return;
  form.hidden = !found;
  const line = form.nextElementSibling;
  if (line)
    line.textContent = found ? entry(found.field, found.value) :
        "Earlier entries can be undone when there is a network.";
}

const undo = () => {
  flush();
  chain = chain.then(() => {
    const found = last();
    // Not awaited: it goes behind this step of the same chain.
    if (found) void note(found.field, found.before, { kind: "undo", of: found.of });
  });
};

/* ------- numbers ------- */

/** @param {HTMLInputElement} input */
export const noteLater = (input) => {
  clearTimeout(moving.get(input.name)?.timer);
  moving.set(input.name, { input, timer: window.setTimeout(() => flush(input.name), REST) });
};
/**
 * Note what is still moving, now.
 * @param {string} [only]
 */
function flush(only) {
  for (const [name, { input, timer }] of moving) {
    if (only && name !== only) continue;
    clearTimeout(timer);
    moving.delete(name);
    void note(name, valueOf(input));
  }
}

/* ------- what the school answers ------- */

/**
 * @param {{state: string, html: string, as_of: string, results: {outcome: string, said: string}[]}} answer
 * @param {store.TapEvent[]} sent
 */
async function answered(answer, sent) {
  const done = new Set(sent.map((event) => event.id));
  // Also without those that another page of this browser has sent.
  over = over.filter((event) => !done.has(event.id) && memory.isWaiting(event.id));
  const refused = answer.results.filter((result) => result.outcome === "refused");
  if (refused.length) held = null;
  if (answer.as_of) pageData.asOf = answer.as_of;
  if (answer.state === "waits") return sender.notify();
  if (answer.state !== "writing") return closed(answer.state);
  if (answer.html) {
    await fingersLifted();
    swap(answer.html);
  }
  // Where the finger was, and read aloud.
  const late = answer.results.filter((result) => result.outcome === "late");
  if (refused.length + late.length) view.say([...refused, ...late].map((result) => result.said).join(" "), true);
  if (behind && !over.length && !sender.unstored.count) {
    behind = false;
    sender.sendNow("all");
  }
  sender.notify();
  if (!over.length && !sender.unstored.count && held) {
    const { form, key } = held;
    held = null;
    form.requestSubmit(key);
  }
}

/** @param {string} state */
function closed(state) {
  alarm(
    state === "signed"
      ? "This lesson is signed and final. What you entered since then is saved and listed here." +
          " Reload the page to see what was signed, and to begin a correction."
      : "This lesson has been discarded. What you entered since then is saved and listed here.",
  );
}

/** Fingers on the screen: a key that is replaced under one of them would never hear of its click. */
const fingers = new Set();
const CLICK = 60; // a click follows its finger within this time
function watchFingers() {
  document.addEventListener("pointerdown", (event) => fingers.add(event.pointerId), true);
  for (const end of ["pointerup", "pointercancel"]) {
    document.addEventListener(
      end,
      (event) => {
        setTimeout(() => fingers.delete(/** @type {PointerEvent} */ (event).pointerId), CLICK);
      },
      true,
    );
  }
}
/** Until no finger is on the screen; not for ever, should one never be reported as lifted. */
async function fingersLifted() {
  for (let turn = 0; fingers.size && turn < 60; turn += 1) await new Promise((done) => setTimeout(done, 50));
  fingers.clear();
}

/** Put the pieces of an answer in their places. All of the work is left for later while taps wait over it. */
function swap(/** @type {string} */ html) {
  const pieces = document.createElement("template");
  pieces.innerHTML = html;
  const work = pieces.content.querySelector("#work");
  if (work && (over.length || sender.unstored.count)) {
    behind = true;
    return;
  }
  const place = rememberFocus();
  for (const piece of pieces.content.querySelectorAll("[hx-swap-oob]")) {
    if (piece.id === "saved" && (over.length || sender.unstored.count || memory.waiting().length)) continue; // not all
    piece.removeAttribute("hx-swap-oob");
    const old = document.getElementById(piece.id);
    // A region that is read aloud stays the same element: one that is put in anew is not listened to.
    if (old?.matches("[role=status]")) {
      old.className = piece.className;
      old.replaceChildren(...piece.childNodes);
      piece.remove();
    } else old?.replaceWith(piece);
  }
  if (work) {
    const turned = view.onPad();
    document.getElementById("work")?.replaceWith(work);
    shown = new Map();
    circuits.read();
    // A circuit that was opened again meanwhile stays on the pad.
    if (turned !== null && turned !== view.onPad()) view.turnTo(turned);
    else view.draw();
  }
  for (const event of over) if (!event.field.startsWith("circuit.")) show(event.field, event.value);
  showUndo();
  place();
}

/* ------- the page ------- */

/** Without contact the page says as of when, and the signature waits. */
export function showConnection(/** @type {boolean} */ away) {
  const line = document.getElementById("as-of"),
    waits = document.getElementById("sign-waits");
  if (!main || !line || !waits) return;
  line.hidden = !away;
  line.textContent = away
    ? "No contact with the school. Proposed grades, counts and results at the gates are as of" +
      ` ${pageData.asOf}. You can go on tapping.`
    : "";
  waits.hidden = !away;
  const form = /** @type {HTMLElement|null} */ (document.querySelector("#sign form[action$='/sign/']"));
  if (form) form.hidden = away;
}

/** Whether a form must wait until the school has answered every tap of this page. */
const mustWait = (/** @type {HTMLFormElement} */ form, /** @type {HTMLElement|null} */ key) => {
  flush();
  if (!over.length && !sender.unstored.count) return false;
  held = { form, key };
  sender.sendNow("changed");
  return true;
};

async function ready(/** @type {HTMLElement} */ key) {
  const row = await store.lessonRow(sender.person, lesson);
  key.setAttribute("aria-pressed", String(Boolean(row.ready)));
  key.addEventListener("click", async () => {
    const now = key.getAttribute("aria-pressed") !== "true";
    await store.lessonRow(sender.person, lesson, { ready: now });
    key.setAttribute("aria-pressed", String(now));
  });
}

/** A key that sends its own name and value: an ending, a step, the closing of a circuit. */
function press(/** @type {HTMLButtonElement} */ key) {
  const { name, value } = key,
    [, number, what] = name.split(".");
  if (what !== "closed") {
    void note(name, value);
    if (what === "ending") view.openEnding(value);
    if (what === "took_control") view.open();
    return;
  }
  if (performance.now() - closedAt < BOUNCE) return;
  closedAt = performance.now();
  if (circuits.isClosed(Number(number))) {
    // Opened again to be looked at or changed, which was noted as it was tapped: nothing is left to send.
    chain = chain.then(() => view.turnTo(circuits.next()));
    return;
  }
  const before = closedAt;
  void note(name, value).then(() => {
    if (!circuits.isClosed(Number(number)) && closedAt === before) closedAt = -Infinity; // refused: nothing was closed
  });
}

function listen() {
  watchFingers();
  const changed = (/** @type {Event} */ event) => {
    const input = /** @type {HTMLInputElement} */ (event.target);
    if (!input.name || input.type === "hidden" || !input.closest("[data-taps]")) return;
    clearTimeout(moving.get(input.name)?.timer);
    moving.delete(input.name);
    void note(input.name, valueOf(input));
  };
  document.addEventListener("change", changed);
  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target),
      key = /** @type {HTMLButtonElement|null} */ (event.submitter);
    if (!form.matches("[data-taps], [data-undo]")) return;
    event.preventDefault();
    if (form.matches("[data-undo]")) return undo();
    flush();
    if (key?.name) press(key);
  });
  document.addEventListener("keydown", (event) => {
    const input = /** @type {HTMLElement} */ (event.target);
    if (event.key === "Enter" && input instanceof HTMLInputElement && input.closest("[data-taps]")) {
      event.preventDefault();
      input.blur();
    }
  });
  document.addEventListener("click", (event) => {
    const link = /** @type {HTMLElement} */ (event.target).closest(".reopen");
    const number = Number(link?.closest("li")?.dataset.circuit);
    if (!link || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    chain = chain.then(() => view.turnTo(number));
  });
  // The cover is closed: what is half typed is noted as it stands.
  const leave = () => {
    flush();
    const input = /** @type {HTMLInputElement|null} */ (document.activeElement);
    if (
      input?.name &&
      input.closest("[data-taps]") &&
      /^(text|textarea)$/.test(input.type) &&
      input.value !== before(input.name)
    )
      void note(input.name, input.value);
  };
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && leave());
  window.addEventListener("pagehide", leave);
  for (const event of /** @type {any} */ (window).earlyTaps?.() ?? []) changed(event);
}
if (main) listen();

/** @returns {Promise<((form: HTMLFormElement, key: HTMLElement|null) => boolean)|null>} */
export async function start() {
  if (!main) return null;
  circuits.read();
  view.start();
  view.draw();
  const since = Number(pageData.since),
    row = await store.lessonRow(sender.person, lesson);
  const noted = (await store.events(sender.person, "noted")).filter((event) => (event.tap ?? 0) > since);
  over = [...noted, ...(await store.events(sender.person, "waiting"))].filter((event) => event.lesson === lesson);
  store.inOrder(over);
  replay();
  over = over.filter((event) => event.state === "waiting");
  over.forEach(memory.remember);
  sender.setOpenLesson({ lesson, circuit: view.onPad, answered });
  if (!row.since && !over.length) await store.lessonRow(sender.person, lesson, { since });
  // What others changed since this device last spoke with the school is asked for, to be told by whom.
  else if (row.since !== since || over.length || sender.fromTablet)
    sender.sendNow(sender.fromTablet ? "all" : "changed");

  begun();
  const key = document.getElementById("ready-key");
  if (key) await ready(key);
  return mustWait;
}
