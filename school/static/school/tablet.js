// @ts-check
/* The page of the lessons on this tablet: filled from what the device keeps for the person who used it last. */
import * as keep from "./keep.js";
import * as sender from "./sender.js";
import * as store from "./store.js";
import { alarm, taps } from "./notes.js";

const place = document.getElementById("tablet");

/** @param {string} id */
const by = (id) => /** @type {any} */ (document.getElementById(id));
const option = (/** @type {string} */ text, /** @type {string|number} */ value) => new Option(text, String(value));

/** @param {string} person */
async function lessons(person) {
  const rows = (await store.lessonRows(person)).filter((row) => row.url && !row.signed),
    waiting = await store.events(person, "waiting");
  const list = by("tablet-lessons").querySelector("ul");
  list.replaceChildren();
  rows.sort((a, b) => Number(Boolean(b.ready)) - Number(Boolean(a.ready)));
  for (const row of rows) {
    const item = document.createElement("li"),
      body = document.createElement("span"),
      link = document.createElement("a"),
      about = document.createElement("span");
    const count = waiting.filter((event) => event.lesson === row.lesson).length;
    link.href = row.url ?? "";
    link.append(Object.assign(document.createElement("b"), { textContent: row.title }));
    about.className = "small second";
    about.textContent = [row.about, count ? taps(count, " here") : "", row.ready ? "ready to sign" : ""]
      .filter(Boolean)
      .join(". ");
    body.append(link, document.createElement("br"), about);
    item.append(document.createElement("span"), body);
    list.append(item);
  }
  by("tablet-lessons").hidden = !rows.length;
  return rows.length;
}

/** @param {any} told */
function form(told) {
  const [student, unit, on, aircraft] = ["student", "unit", "on", "aircraft"].map((name) => by(`here-${name}`));
  by("tablet-begin").hidden = !told?.students.length;
  if (!told?.students.length) return;
  student.replaceChildren(...told.students.map((/** @type {any} */ row) => option(row.name, row.uid)));
  const chosen = () => told.students.find((/** @type {any} */ row) => row.uid === student.value);
  const offer = () => {
    unit.replaceChildren(...chosen().units.map((/** @type {any} */ row) => option(row.title, row.pk)));
    aircraft.replaceChildren(
      ...chosen().aircraft.map((/** @type {any} */ row) =>
        option(row.caution ? `${row.registration}: ${row.caution}` : row.registration, row.pk),
      ),
      option("none: on the ground", ""),
    );
  };
  const outside = by("here-outside"),
    reason = by("here-reason");
  const chosenUnit = () => chosen().units.find((/** @type {any} */ one) => String(one.pk) === unit.value);
  /** A solo that no release allows is begun with a reason only. */
  const ask = () => {
    outside.hidden = !chosenUnit()?.unreleased;
    reason.required = !outside.hidden;
  };
  student.addEventListener("change", offer);
  student.addEventListener("change", ask);
  unit.addEventListener("change", ask);
  offer();
  ask();
  on.value = new Date().toLocaleDateString("sv", { timeZone: told.zone });
  by("begin-here").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    const row = chosen(),
      unitOf = chosenUnit();
    const plane = row.aircraft.find((/** @type {any} */ one) => String(one.pk) === aircraft.value) ?? null;
    if (unitOf.flown && !plane) return alarm("This unit is a flight: choose the aircraft.");
    if (unitOf.unreleased && !reason.value.trim()) return alarm("Write why this solo is flown without a release.");
    try {
      location.href = await keep.beginLesson({
        enrolment: row.uid,
        name: row.name,
        unit: unitOf,
        on: on.value,
        aircraft: plane,
        reason: unitOf.unreleased ? reason.value.trim() : "",
      });
    } catch (error) {
      alarm(
        `Not begun: ${/** @type {Error} */ (error).message}.` +
          " Begin it with a network, or free some storage on the tablet.",
      );
    }
  });
}

export async function start() {
  if (!place) return;
  const person = await keep.lastPerson(),
    told = person ? await store.fact(`kept/${person}`) : null;
  const expired = person ? 0 : await store.fact("expired");
  const others = await store.countOthersWaiting(person);
  const away = location.pathname !== "/tablet/" ? "There is no network, and that page is not stored here. " : "";
  const say = async () => {
    const count = person ? await lessons(person) : 0;
    const waiting = person ? (await store.events(person, "waiting")).length : 0;
    const state = !person
      ? expired
        ? `The stored pages are locked after ${expired} hours without contact. Log in with network.`
        : "Nobody is logged in on this tablet."
      : `${told?.name ?? "You"}: ${waiting ? taps(waiting) : "all saved"}. ` + (count ? "" : "No lesson is open here.");
    by("tablet-said").textContent =
      `${away}${state}${others ? ` ${taps(others, " sealed")} until their person logs in.` : ""}`;
    const line = by("saved").lastElementChild;
    line.textContent = !person ? "" : waiting ? taps(waiting) : "All saved";
  };
  await say();
  if (person) form(told);
  sender.watch(() => void say());
}

/** On the list of lessons, those marked as ready to sign come first. */
export async function showReadyFirst() {
  const list = document.getElementById("writing");
  if (!list || !sender.person) return;
  for (const row of (await store.lessonRows(sender.person)).filter((one) => one.ready)) {
    const item = list.querySelector(`[data-lesson="${row.lesson}"]`);
    if (!item) continue;
    item.lastElementChild?.append(Object.assign(document.createElement("b"), { textContent: " Ready to sign." }));
    list.prepend(item);
  }
}
