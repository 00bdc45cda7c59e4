// @ts-check
/* Keeps pages on this device for a day without network, and brings them up to date while there is some. */
import { canSeal, seal, unseal } from "./seal.js";
import * as sender from "./sender.js";
import * as store from "./store.js";

const html = document.documentElement;
const NO_LESSON = "00000000-0000-0000-0000-000000000000";
const LESSON_SLOTS = ["action", "formaction", "href", "hx-get", "hx-post", "data-lesson"];
const PAUSE = 1500,
  FRESH = 10 * 60000,
  BLANK_FRESH = 12 * 3600000;
const PERSON_KEY = "/tablet/person",
  START = "/tablet/", // the frame's own page
  HOUR = 3600000,
  SLACK = 5 * 60000; // a clock that is put right by a little

let hasCaches = "caches" in window;
/** Set by emptying: what is under way on this page puts nothing back. */
let emptied = false;
const pages = () => caches.open(`kept-${sender.person}`);
let timer = 0;

/** Whether pages can be kept: a private window may have the place and refuse to open it. */
export async function tryCaches() {
  hasCaches &&= await caches.open("tablet").then(
    () => true,
    () => false,
  );
}

/** Who used this device last: the one whose pages open without network. Nobody, once somebody has logged out. */
export async function rememberPerson() {
  if (!hasCaches || sender.fromTablet || !sender.person) return;
  const last = (await lastContact()).person;
  if (last && last !== sender.person) await empty();
  emptied = false;
  await writeContact(sender.person, html.dataset.hours ?? "");
  if (!html.dataset.seal || store.isInMemory()) return;
  await store.fact(`seal/${sender.person}`, html.dataset.seal);
  await store.fact("ticket", html.dataset.ticket);
}

/**
 * @param {string} person
 * @param {string} hours for how long the pages of this person open without contact
 */
async function writeContact(person, hours) {
  const headers = { "Contact-At": String(Date.now()), "Keep-Hours": hours };
  await (await caches.open("tablet")).put(PERSON_KEY, new Response(person, { headers }));
}

async function lastContact() {
  const row = hasCaches ? await (await caches.open("tablet")).match(PERSON_KEY) : undefined;
  const hours = Number(row?.headers.get("Keep-Hours") ?? 0),
    // By what passed on this device, whatever its clock shows: one that was set back proves nothing.
    passed = Date.now() - Number(row?.headers.get("Contact-At") ?? 0);
  const expired = hours > 0 && !(passed > -SLACK && passed < hours * HOUR);
  return { person: (await row?.text()) ?? "", hours, expired };
}
export const lastPerson = async () => (await lastContact()).person;

/** The school has just answered this person: from now on the hours count anew. */
export async function renewContact() {
  const { person, hours, expired } = await lastContact();
  if (person && person === sender.person && !expired && sender.contact.state === "ok")
    await writeContact(person, String(hours));
}

/** Whether this browser could seal what has not been sent. */
export const canEmpty = () => canSeal() && Boolean(html.dataset.seal);

/**
 * Leave no page, name, title or text on this device. What is not on record at the school is sealed for its person.
 */
export async function empty() {
  emptied = true;
  document.title = "Training record";
  const rows = store.isInMemory() ? [] : await store.unrecorded();
  for (const person of new Set(rows.map((/** @type {store.TapEvent} */ row) => row.person))) {
    const theirs = rows.filter((/** @type {store.TapEvent} */ row) => row.person === person),
      point = await store.fact(`seal/${person}`);
    if (!canSeal() || !point) throw new Error("this browser cannot lock what has not been sent");
    await store.replaceBySealed(person, theirs, await seal(point, theirs));
  }
  await store.deletePlain();
  sessionStorage.clear();
  if (!hasCaches) return;
  await writeContact("", "");
  for (const name of await caches.keys()) if (name.startsWith("kept-")) await caches.delete(name);
}

/** Put back what this person had sealed here: the school gives the key to nobody else. */
export async function openSealed() {
  const boxes = sender.person && !sender.fromTablet ? await store.sealedBoxes(sender.person) : [];
  if (!boxes.length) return;
  const reply = await fetch(html.dataset.contact ?? "", { redirect: "manual", cache: "no-store" });
  const answer = reply.ok ? await reply.json() : null;
  if (!answer || String(answer.person) !== sender.person) return;
  const rows = [];
  for (const box of boxes) rows.push(...(await unseal(box, answer.keys)));
  await store.takeOutSealed(sender.person, rows);
}

/** The time is over for which the school lets a tablet open pages without contact. */
export async function emptyIfExpired() {
  const { person, hours, expired } = await lastContact();
  if (!person || !expired) return;
  await empty();
  await store.fact("expired", hours);
}

/** What the school says to a device on which nobody is logged in; null where somebody is, or without an answer. */
async function askWhetherEnded() {
  const ticket = (await store.fact("ticket")) ?? "";
  const reply = await fetch(html.dataset.contact ?? "", {
    redirect: "manual",
    cache: "no-store",
    headers: { "Tablet-Ticket": ticket },
  });
  return reply.status === 401 ? /** @type {Promise<{ended: boolean}>} */ (reply.json()) : null;
}

/** A page for nobody: the school has just answered, and nobody is logged in on this device. */
export async function emptyIfNobody() {
  const left = hasCaches && (await caches.keys()).some((name) => name.startsWith("kept-"));
  if (((await lastPerson()) || left) && (await askWhetherEnded())) await empty();
}

/** Somebody ended the session of this device, from another one for the most part: nothing stays to be read. */
export async function emptyIfEnded() {
  if (!(await askWhetherEnded())?.ended) return;
  await empty();
  sender.tellLeft();
  location.replace(html.dataset.login ?? "/");
}

/**
 * Bring back what a cleared cache has lost: whose pages these are, and with contact the frame and the open page.
 * @returns {Promise<boolean>} whether it was cleared
 */
export async function restock() {
  if (!hasCaches || !html.dataset.kept || sender.fromTablet) return false;
  const cleared = !(await (await caches.open("tablet")).match(PERSON_KEY));
  if (cleared) await rememberPerson();
  if (html.dataset.stocked === undefined || sender.contact.state !== "ok") return cleared;
  if (!(await caches.match(START)) && navigator.serviceWorker) {
    await navigator.serviceWorker.register(html.dataset.worker ?? "");
    (await navigator.serviceWorker.ready).active?.postMessage("restock");
  }
  refreshSoon();
  return cleared;
}

/** Fetch a page and keep it; what it holds of the events of this device need not lie over it any more. */
async function cachePage(/** @type {string} */ url, /** @type {string} */ lesson) {
  const reply = await fetch(url, { redirect: "manual", cache: "no-store" });
  if (!reply.ok) return;
  const text = await reply.clone().text();
  if (emptied) return;
  await (await pages()).put(url, reply);
  const since = Number(/data-since="(\d+)"/.exec(text)?.[1] ?? 0);
  await store.deleteEvents((row) => row.lesson === lesson && row.state === "noted" && (row.tap ?? 0) <= since);
}

/** After an answer, once the taps rest. */
export function refreshSoon() {
  const main = /** @type {HTMLElement|null} */ (document.querySelector("main[data-lesson]"));
  if (!hasCaches || !main || sender.isAway()) return;
  clearTimeout(timer);
  timer = window.setTimeout(async () => {
    const of = (/** @type {store.TapEvent} */ row) => row.lesson === main.dataset.lesson;
    const waiting = (await store.events(sender.person, "waiting")).some(of),
      noted = (await store.events(sender.person, "noted")).some(of);
    if (emptied) return;
    const kept = await (await pages()).match(location.pathname);
    // What fails here is tried again after the next answer.
    if (!waiting && (noted || !kept)) await cachePage(location.pathname, main.dataset.lesson ?? "").catch(() => {});
  }, PAUSE);
}

/**
 * Bring what this instructor needs for the day onto the device.
 * @param {boolean} [now]
 */
export async function preload(now = false) {
  const url = html.dataset.kept,
    key = `kept/${sender.person}`;
  if (!hasCaches || !url || sender.fromTablet || store.isInMemory()) return;
  const old = await store.fact(key);
  if (!now && old && Math.abs(Date.now() - old.at) < FRESH) return;
  const reply = await fetch(url, { redirect: "manual", cache: "no-store" });
  if (!reply.ok) return;
  const told = await reply.json();
  if (emptied) return;
  await store.fact(key, { ...told, at: 0 }); // fresh once all of it is here
  const cache = await pages();
  for (const row of told.lessons) {
    if (emptied) return;
    await store.lessonRow(sender.person, row.uid, {
      title: row.title,
      about: row.about,
      url: row.url,
      signed: row.signed,
      here: false,
    });
    if (row.url !== location.pathname || !(await cache.match(row.url))) await cachePage(row.url, row.uid);
  }
  await deleteOldPages(told, cache);
  for (const student of told.students) for (const unit of student.units) await cacheBlank(unit.url, cache);
  if (!emptied) await store.fact(key, { ...told, at: Date.now() });
}

/** Pages of lessons that are neither open nor of today go, except of those that were begun here and wait. */
async function deleteOldPages(/** @type {any} */ told, /** @type {Cache} */ cache) {
  const open = new Set(told.lessons.map((/** @type {any} */ row) => row.uid));
  const waiting = await store.events(sender.person, "waiting"),
    refused = await store.events(sender.person, "refused");
  for (const row of await store.lessonRows(sender.person)) {
    if (open.has(row.lesson) || waiting.some((event) => event.lesson === row.lesson)) continue;
    if (row.url) await cache.delete(row.url);
    if (!refused.some((event) => event.lesson === row.lesson)) await store.forgetLesson(sender.person, row.lesson);
  }
  const blanks = new Set(
    told.students.flatMap((/** @type {any} */ student) => student.units.map((/** @type {any} */ unit) => unit.url)),
  );
  for (const request of await cache.keys()) {
    const path = new URL(request.url).pathname;
    if (path.startsWith("/tablet/blank/") && !blanks.has(path)) await cache.delete(request);
  }
}

async function cacheBlank(/** @type {string} */ url, /** @type {Cache} */ cache) {
  const old = await cache.match(url);
  if (old && Date.now() - Date.parse(old.headers.get("Date") ?? "") < BLANK_FRESH) return;
  const reply = await fetch(url, { redirect: "manual", cache: "no-store" });
  if (reply.ok) await cache.put(url, reply);
}

/** Put the lesson's own number where the blank page has none; what a person wrote on it stays as it is. */
function nameLesson(/** @type {Document} */ page, /** @type {string} */ uid) {
  for (const name of LESSON_SLOTS)
    for (const element of page.querySelectorAll(`[${name}*="${NO_LESSON}"]`))
      element.setAttribute(name, (element.getAttribute(name) ?? "").replace(NO_LESSON, uid));
}

/**
 * Write the page of a lesson that begins here, out of a blank one. The first event begins it at the school.
 * @typedef {{pk: number, title: string, url: string}} UnitChoice
 * @typedef {{pk: number, registration: string}} AircraftChoice
 * @param {{enrolment: string, name: string, unit: UnitChoice, on: string, aircraft: AircraftChoice|null,
 *   reason: string}} asked `reason`: why a solo is flown that no release allows, or nothing
 * @returns {Promise<string>} the address of the page
 */
export async function beginLesson(asked) {
  const person = await lastPerson(),
    cache = await caches.open(`kept-${person}`),
    kept = await cache.match(asked.unit.url);
  if (!kept) throw new Error("this unit is not stored on the tablet");
  const uid = crypto.randomUUID();
  const page = new DOMParser().parseFromString(await kept.text(), "text/html");
  nameLesson(page, uid);
  page.documentElement.dataset.batch = html.dataset.batch ?? ""; // the pattern, not the address of one lesson
  const day = page.getElementById("lesson-day");
  if (day) day.textContent = asked.on;
  const url = `/lessons/${uid}/`,
    title = `${asked.name}, begun on this tablet`;
  page.title = title;
  for (const option of page.querySelectorAll("#l-aircraft option"))
    option.toggleAttribute("selected", option.getAttribute("value") === String(asked.aircraft?.pk ?? ""));
  const outside = page.getElementById("l-outside");
  if (outside && asked.reason) outside.textContent = asked.reason;
  await store.addEvent({
    person,
    lesson: uid,
    enrolment: asked.enrolment,
    title,
    kind: "begin",
    field: "",
    value: "",
    before: "",
    begin: {
      enrolment: asked.enrolment,
      unit: asked.unit.pk,
      on: asked.on,
      aircraft: asked.aircraft?.pk ?? null,
      reason: asked.reason,
    },
  });
  await store.lessonRow(person, uid, {
    title,
    about: `${asked.unit.title}. ${asked.on}${asked.aircraft ? `, ${asked.aircraft.registration}` : ""}`,
    url,
    here: true,
  });
  await cache.put(
    url,
    new Response(`<!DOCTYPE html>${page.documentElement.outerHTML}`, {
      headers: { "Content-Type": "text/html; charset=utf-8" },
    }),
  );
  return url;
}
