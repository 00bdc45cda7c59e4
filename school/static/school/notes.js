// @ts-check
/* Says whether everything is saved, what waits, what was refused and what others changed, until it is dismissed. */
import * as memory from "./memory.js";
import * as sender from "./sender.js";
import * as store from "./store.js";

const SLOW = 2500; // a tap that is answered quickly needs no words
const place = document.getElementById("notes");
const saved = document.getElementById("saved") ? () => document.getElementById("saved") : null;
let slow = 0,
  late = false,
  ours = false;

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} kind
 * @param {string} text
 * @param {Record<string, string>} [more]
 */
const build = (kind, text, more = {}) => {
  const element = document.createElement(kind);
  element.textContent = text;
  for (const [name, value] of Object.entries(more)) element.setAttribute(name, value);
  return element;
};

/**
 * Something that must be read before tapping goes on.
 * @param {string} text
 * @param {...HTMLElement} keys
 */
export function alarm(text, ...keys) {
  if (!place) return;
  document.getElementById("alarm")?.remove();
  const box = build("div", "", { id: "alarm", role: "alert", class: "errors" });
  box.append(build("p", text), ...keys);
  place.prepend(box);
  place.hidden = false;
  place.scrollIntoView({ block: "start" });
}
export const button = (/** @type {string} */ text, /** @type {() => void} */ act, more = {}) => {
  const key = build("button", text, { type: "button", class: "btn", ...more });
  key.addEventListener("click", act);
  return key;
};

/**
 * @param {number} count
 * @param {string} [place]
 */
export const taps = (count, place = store.isInMemory() ? " in this page only: keep it open" : " on this tablet") =>
  count === 1 ? `1 tap waits${place}` : `${count} taps wait${place}`;

/**
 * @param {number} waiting
 * @param {number} refused
 */
function line(waiting, refused) {
  const { state, said } = sender.contact;
  const why = {
    none: "No contact with the school. Keep a page open: they will be sent once there is.",
    out: "You are logged out: log in again; nothing is lost.",
    other: "Somebody else is logged in. They stay locked until you log in again.",
    wrong: said,
    ok: sender.trouble.unbegun ? "The beginning of their lesson has not reached the school yet." : "",
    unknown: "",
  }[state];
  if (waiting) return late || why ? `${taps(waiting)}. ${why}`.trim() : "Saving";
  if (refused)
    return `${refused === 1 ? "1 entry was" : `${refused} entries were`} not accepted: see the top of the page.`;
  return state === "none"
    ? "All saved. No contact with the school now."
    : state === "out"
      ? "All saved. You are logged out."
      : "";
}

/**
 * An entry in words, as the page calls it: "Circuit 4 landing level: practice".
 * @param {string} field
 * @param {string} value
 */
export const entry = (field, value) => {
  const name = field
    .replace(/^lesson\./, "")
    .replace(/_minutes$/, "")
    .replace(/[._-]/g, " ");
  return `${name[0].toUpperCase()}${name.slice(1)}: ${(value || "empty").replace(/_/g, " ")}`;
};

/** @param {store.TapEvent} row */
function sentence(row) {
  const name = row.field ? entry(row.field, row.value) : row.kind === "begin" ? "lesson begun" : "entry undone";
  const other = row.other && `“${(row.other.value || "empty").replace(/_/g, " ")}” by ${row.other.by}, ${row.other.at}`;
  if (row.state === "refused") return `${row.said}${other ? ` On record: ${other}.` : ""} Not accepted: ${name}`;
  if (row.kind === "change" && row.said) return row.said;
  if (row.other && row.other.value !== row.value)
    return `${name} was entered here and replaced ${other}, from another device.`;
  return row.other
    ? `Changed on another device by ${row.other.by}, ${row.other.at}: ${name}.` +
        ` Before: ${row.other.before || "empty"}.`
    : name;
}

async function list() {
  if (!place || !sender.person) return;
  const kept = await store.events(sender.person, "refused"),
    rows = [...kept, ...(await store.events(sender.person, "told"))];
  // Read last, and with what is being made at that moment: a tap that falls between is never called saved.
  const waiting = (await store.unanswered(sender.person)).length;
  countUnsent(waiting);
  tellCleared(waiting);
  const said = waiting || !sender.unstored.count ? line(waiting, kept.length) : "Saving";
  tellSaved(said, waiting + kept.length > 0);
  document.getElementById("notes-list")?.remove();
  const box = build("div", "", { id: "notes-list" });
  if (said && said !== "Saving" && !saved && waiting) box.append(build("p", said, { class: "notice", role: "status" }));
  if (sender.contact.state === "out") box.append(build("p", "", { class: "notice" }));
  if (sender.contact.state === "out")
    box.lastElementChild?.append(
      build("a", "Log in again", {
        href: `${document.documentElement.dataset.login}?next=${encodeURIComponent(location.pathname)}`,
      }),
      ". What you entered is saved on this tablet and will be sent then.",
    );
  if (waiting && sender.trouble.evictable && sender.isAway() && (await isFirstTold())) box.append(evictable());
  if (rows.length) box.append(answerLines(rows), ...offer(rows));
  place.append(box);
  place.hidden = !box.hasChildNodes() && !document.getElementById("alarm");
}

let evictableTold = false;
/** Once on each device: on this page until it is dismissed, on no other. */
async function isFirstTold() {
  if (evictableTold || (await store.fact("evictable-told"))) return evictableTold;
  await store.fact("evictable-told", true);
  return (evictableTold = true);
}

/** What a refusal to keep the storage means, where it matters: while taps wait. */
function evictable() {
  const words = build("p", "", { class: "notice", role: "status" });
  words.append(
    "This browser may clear its storage when space runs short; some do after seven days without a tap here." +
      " Do not leave entries unsent longer than necessary. ",
    button("Dismiss", () => {
      evictableTold = false;
      words.remove();
    }),
  );
  return words;
}

/** The storage was cleared under this page: said once, and again when all is sent. */
function tellCleared(/** @type {number} */ waiting) {
  if (!sender.trouble.cleared) return;
  sender.trouble.cleared = false;
  const kept = waiting === 1 ? "1 tap is" : `${waiting} taps are`;
  alarm(
    "The storage of this browser was cleared while this page was open. " +
      (waiting
        ? `${kept} kept from this page and sent again: leave it open until everything is saved.`
        : "What you entered on this page is in the school’s record.") +
      " Unsent entries of other lessons are lost.",
    dismissal(),
  );
}
const dismissal = () => button("Dismiss", () => document.getElementById("alarm")?.remove());

const unsentBefore = () => /(?:^|; )unsent=([\d.]*)/.exec(document.cookie)?.[1] ?? "";
let counted = unsentBefore(),
  counting = 0;
/**
 * How many taps are not sent stands in a cookie too: a browser that clears its storage by itself leaves that.
 * @param {number} waiting
 */
function countUnsent(waiting) {
  const now = waiting ? `${sender.person}.${waiting}` : "";
  // What somebody else left unsent here stays counted until this person has something of their own.
  if (now === counted || (!now && !counted.startsWith(`${sender.person}.`))) return;
  const write = () => {
    const secure = location.protocol === "https:" ? "; Secure" : "";
    document.cookie = `unsent=${now}; Path=/; SameSite=Strict; Max-Age=${now ? 400 * 86400 : 0}${secure}`;
  };
  clearTimeout(counting);
  // The first and the last at once, the numbers between while the fingers rest.
  if (counted && now) counting = window.setTimeout(write, 500);
  else write();
  counted = now;
}

/** The storage is new to this page though taps of this person were in it: they are lost, and that is said. */
export function tellLost() {
  const [person, count] = unsentBefore().split(".");
  if (!count || person !== sender.person) return;
  alarm(
    `This browser has cleared its storage: ${count === "1" ? "1 tap" : `${count} taps`} had not been sent to the` +
      " school. Check your open lessons and enter what is missing.",
    dismissal(),
  );
}

/** @param {store.TapEvent[]} rows */
function answerLines(rows) {
  const lines = build("ul", "", { class: "lines", "aria-label": "What the school answered" });
  for (const row of rows) {
    const item = build("li", ""),
      body = build("div", "");
    body.append(
      build("b", row.title ? `${row.title}. ` : ""),
      sentence(row),
      " ",
      button("Dismiss", () => dismiss(row), { "data-dismiss": row.id }),
    );
    item.append(build("span", ""), body);
    lines.append(item);
  }
  return lines;
}

/** Refused taps of one lesson of this student can be put into the one that is open: a correction, or one begun anew. */
function offer(/** @type {store.TapEvent[]} */ rows) {
  const main = /** @type {HTMLElement|null} */ (document.querySelector("main[data-lesson]"));
  const mine = main
    ? rows.filter(
        (row) =>
          row.state === "refused" &&
          row.kind === "entry" &&
          row.enrolment === main.dataset.enrolment &&
          row.lesson !== main.dataset.lesson,
      )
    : [];
  const signed = /** @type {HTMLElement|null} */ (document.querySelector("[data-signed]"))?.dataset.signed;
  if (mine.length && main) {
    const title = document.title,
      lesson = main.dataset.lesson ?? "";
    return [
      button(
        `Put ${mine.length} kept ${mine.length === 1 ? "tap" : "taps"} into this lesson`,
        async () => {
          await store.moveTaps(mine, { lesson, title });
          location.reload();
        },
        { id: "put-in" },
      ),
    ];
  }
  if (signed && rows.some((row) => row.state === "refused" && row.lesson === signed))
    return [build("p", "Begin a correction below: these entries can then be added to it.", { class: "notice" })];
  return [];
}

/** @param {store.TapEvent} row */
async function dismiss(row) {
  await store.deleteEvents((one) => one.id === row.id);
  sender.notify();
}

/** The quiet line in the head of the lesson. What the school wrote there stands while nothing waits. */
function tellSaved(/** @type {string} */ text, /** @type {boolean} */ unsent) {
  const now = saved?.();
  if (!now?.lastElementChild) return;
  now.classList.toggle("unsent", unsent && text !== "Saving");
  if (text) ours = true;
  else if (!ours || !/Saving|wait|not taken|All saved\. /.test(now.lastElementChild.textContent ?? "")) return;
  const words = text || "All saved in the school’s record";
  if (now.lastElementChild.textContent !== words) now.lastElementChild.textContent = words;
}

/** A tap was just made: from now on not everything is saved. */
export const showSaving = () => {
  if (!sender.isAway()) tellSaved("Saving", false);
};

/** @type {Promise<unknown>} */
let turn = Promise.resolve();
let asked = false;
/** Say anew: once more after the one under way, however often it was asked meanwhile. */
const again = () => {
  if (asked) return turn;
  asked = true;
  const once = () => {
    asked = false;
    return list();
  };
  return (turn = turn.then(once, once));
};

export function start() {
  // What only this page holds is lost with it.
  window.addEventListener("beforeunload", (event) => {
    if (store.isInMemory() && memory.waiting().length) event.preventDefault();
  });
  sender.watch(() => {
    void again();
    clearTimeout(slow);
    slow = window.setTimeout(() => {
      late = true;
      void again().then(() => {
        late = false;
      });
    }, SLOW);
  });
  void again();
}

/* ------- leaving ------- */

/**
 * Logging out with taps that wait is asked about first. What stays is sealed: only the same person gets to it again.
 */
export function guardLogout(/** @type {() => boolean} */ canEmpty, /** @type {() => Promise<void>} */ empty) {
  let sure = false;
  document.addEventListener("submit", async (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (!form.matches("[data-leave]") || sure) return;
    event.preventDefault();
    const count = (await store.unanswered(sender.person)).length;
    const go = async () => {
      sure = true;
      await empty().catch(reportError);
      sender.tellLeft();
      form.submit();
    };
    if (!(await sender.checkSession()) && sender.contact.state === "none")
      return alarm("Logging out needs a connection, and there is no network. Lock the tablet instead.");
    if (!count) return go();
    const send = button("Send them now", () => {
      document.getElementById("alarm")?.remove();
      sender.sendNow();
    });
    if (!canEmpty() || store.isInMemory())
      return alarm(`${taps(count)}. This browser cannot lock them: send them before you log out.`, send);
    alarm(
      `${taps(count)}. They are yours and stay locked here until you log in again; nobody else can read them.`,
      send,
      button("Log out, keep them locked", go),
    );
  });
}
