// @ts-check
/* What the school refused of this lesson is said at its field, until it is written anew or dismissed. */
import * as sender from "../school/sender.js";
import * as store from "../school/store.js";

const lesson = /** @type {HTMLElement|null} */ (document.querySelector("main[data-lesson]"))?.dataset.lesson;
/** Refusals that were said already: the page moves to a new one only, and never again. */
const told = new Set();

/** The control that can be seen of a field, and what stands around it with its label. */
function controlOf(/** @type {string} */ field) {
  for (const input of document.getElementsByName(field)) {
    const place = input.closest(".field, fieldset");
    if (place && !(input instanceof HTMLInputElement && input.type === "hidden")) return { input, place };
  }
  return null;
}

function clear(/** @type {HTMLElement} */ line) {
  for (const input of document.querySelectorAll(`[aria-describedby="${line.id}"]`)) {
    input.removeAttribute("aria-invalid");
    input.removeAttribute("aria-describedby");
  }
  line.closest(".field")?.classList.remove("wrong");
  line.remove();
}

/** @param {store.TapEvent} row */
function say(row) {
  const found = controlOf(row.field);
  if (!found) return;
  const { input, place } = found,
    id = `refused-${row.field.replace(/\W/g, "-")}`;
  const line = document.getElementById(id) ?? document.createElement("p");
  if (line.textContent === row.said && place.contains(line)) return;
  Object.assign(line, { id, className: "error", textContent: row.said });
  line.setAttribute("role", "alert");
  line.dataset.refused = row.field;
  place.classList.add("wrong");
  place.append(line);
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", id);
  if (told.has(row.id)) return;
  told.add(row.id);
  const { top, bottom } = place.getBoundingClientRect();
  // The bars at the head and the foot of the page cover what lies under them.
  if (top < 90 || bottom > window.innerHeight - 140) place.scrollIntoView({ block: "center" });
}

/** What was refused before this page was loaded: it stands in its field again, and the page stays where it is. */
function keep(/** @type {store.TapEvent} */ row) {
  told.add(row.id);
  const input = controlOf(row.field)?.input;
  const typed = input instanceof HTMLTextAreaElement || (input instanceof HTMLInputElement && input.type === "text");
  if (typed && input.value === input.defaultValue) input.value = row.value;
}

let loaded = false;
async function tell() {
  const refused = await store.events(sender.person, "refused");
  // The pad of a circuit stands still and says its refusals at its own place.
  const rows = refused.filter((row) => row.lesson === lesson && row.field && !row.field.startsWith("circuit."));
  if (!loaded) rows.forEach(keep);
  loaded = true;
  const fields = new Set(rows.map((row) => row.field));
  for (const line of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-refused]")))
    if (!fields.has(line.dataset.refused ?? "")) clear(line);
  for (const row of rows) say(row);
}

/** @type {Promise<unknown>} */
let turn = Promise.resolve();
export function start() {
  if (!lesson) return;
  const once = () => (turn = turn.then(tell, tell));
  sender.watch(() => void once());
  void once();
}
