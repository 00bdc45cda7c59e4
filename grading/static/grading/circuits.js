// @ts-check
/* The circuit pad as the device shows it by itself: closed, opened again, ended another way, without the school. */

const pad = () => /** @type {HTMLFormElement|null} */ (document.getElementById("now"));
const other = () => /** @type {HTMLTemplateElement|null} */ (document.getElementById("other-part"));

/**
 * What stands in the circuits, by the name of its input.
 * @type {Record<string, string>}
 */
let noted = {};

/** Read anew what the page says of its circuits. */
export function read() {
  const section = document.getElementById("circuits");
  noted = section ? JSON.parse(section.dataset.noted || "{}") : {};
}

/**
 * The circuit on the pad.
 * @returns {number|null}
 */
export const onPad = () => (pad() ? Number(pad()?.dataset.number) : null);

/**
 * @param {string} field
 * @returns {string}
 */
export function currentValue(field) {
  return (
    noted[field] ?? (field.endsWith(".ending") ? (pad()?.dataset.ends ?? "") : field.endsWith(".help") ? "none" : "")
  );
}

/**
 * Show an entry of a circuit. The inputs of the pad are filled by who calls.
 * @param {string} field
 * @param {string} value
 */
export function show(field, value) {
  const [, number, what] = field.split(".");
  if (value) noted[field] = value;
  else delete noted[field];
  if (what === "closed" && value && Number(number) === onPad()) {
    line(number);
    turnTo(next());
  } else if (what === "closed" && !value) turnTo(Number(number));
  else if (what === "ending" && Number(number) === onPad()) end(value);
}

/** The circuit to write next: one that is open, else a new one. */
function next() {
  const numbers = new Set(Object.keys(noted).map((field) => Number(field.split(".")[1])));
  numbers.add(onPad() ?? 1);
  const open = [...numbers].filter((number) => !noted[`circuit.${number}.closed`]).sort((a, b) => a - b);
  return open[0] ?? Math.max(...numbers) + 1;
}

/**
 * Put a circuit on the pad, filled with what stands in it.
 * @param {number} number
 */
export function turnTo(number) {
  const form = pad();
  if (!form) return;
  rename(form, number);
  form.dataset.number = String(number);
  for (const place of form.querySelectorAll("[data-numbered]"))
    place.textContent = `${/** @type {HTMLElement} */ (place).dataset.numbered} ${number}`;
  document.querySelector(`#closed > [data-circuit="${number}"]`)?.remove();
  end(currentValue(`circuit.${number}.ending`));
  for (const part of [form, other()?.content])
    part?.querySelectorAll(".said").forEach((said) => said.replaceChildren());
  for (const input of form.querySelectorAll("input")) empty(input);
  for (const more of form.querySelectorAll("details")) more.open = false;
  for (const [field, value] of Object.entries(noted))
    if (field.startsWith(`circuit.${number}.`)) fill(field, value, form);
}

/** @param {HTMLInputElement} input */
function empty(input) {
  if (input.name === "circuit") input.value = pad()?.dataset.number ?? "";
  else if (input.type === "radio") input.checked = input.name.endsWith(".help") && input.value === "none";
  else if (input.type === "checkbox") input.checked = false;
  else if (input.type !== "hidden") input.value = "";
}

/**
 * Names and ids of the pad speak of its circuit.
 * @param {HTMLFormElement} form
 * @param {number} number
 */
function rename(form, number) {
  const old = form.dataset.number;
  for (const part of [form, other()?.content]) {
    for (const element of part?.querySelectorAll("*") ?? []) {
      for (const name of ["name", "id", "for", "data-for"]) {
        const value = element.getAttribute(name);
        if (value)
          element.setAttribute(
            name,
            value.replace(`circuit.${old}.`, `circuit.${number}.`).replace(`circuit-${old}-`, `circuit-${number}-`),
          );
      }
    }
  }
}

/**
 * How the circuit on the pad ends, and with it whether it has a landing or a go-around.
 * @param {string} value
 */
function end(value) {
  const form = pad(),
    spare = other()?.content;
  if (!form || !spare) return;
  for (const key of form.querySelectorAll("button[name$='.ending']")) {
    if (key.id === "go-around-key") /** @type {HTMLElement} */ (key).hidden = value === "go_around";
    else {
      const chosen = /** @type {HTMLButtonElement} */ (key).value === value;
      key.classList.toggle("chosen", chosen);
      key.setAttribute("aria-pressed", String(chosen));
    }
  }
  const last = value === "go_around" ? "go_around" : "landing";
  if (form.querySelector(`fieldset[id$="-${last}"]`)) return;
  const [shown] = [...form.querySelectorAll("fieldset[id$='-landing'], fieldset[id$='-go_around']")];
  const said = shown.nextElementSibling;
  shown.before(...spare.childNodes);
  spare.append(shown, said ?? "");
}

/**
 * A line for the circuit that is closed: its marks are those of the keys that were tapped.
 * @param {string} number
 */
function line(number) {
  const form = pad(),
    list = document.getElementById("closed");
  if (!form || !list) return;
  const item = document.createElement("li");
  item.className = "closed";
  item.dataset.circuit = number;
  item.innerHTML = '<a class="no reopen"></a><div class="three"></div><p class="said"></p>';
  const [link, three, said] = item.children;
  link.textContent = number;
  link.setAttribute("href", `?circuit=${number}#now`);
  link.setAttribute("aria-label", `Circuit ${number}: open it again`);
  for (const part of form.querySelectorAll("fieldset[id^='pad-circuit']")) {
    const cell = document.createElement("span"),
      word = document.createElement("span");
    const chosen = part.querySelector("input[name$='.level']:checked");
    const help = part.querySelector("input[name$='.help']:checked");
    cell.dataset.p = part.querySelector("legend")?.textContent ?? "";
    word.textContent = chosen?.parentElement?.textContent?.trim() || "Not graded";
    if (chosen && help && /** @type {HTMLInputElement} */ (help).value !== "none")
      word.textContent += `, ${help.parentElement?.textContent?.trim()}`;
    const mark = chosen?.parentElement?.querySelector("svg");
    cell.append(...(mark ? [mark.cloneNode(true)] : []), word);
    three.append(cell);
  }
  const seen = [...form.querySelectorAll("input[type=checkbox]:checked")].map((input) =>
    input.parentElement?.textContent?.trim(),
  );
  said.textContent = [...seen, form.querySelector(".btn.chosen[name$='.ending']")?.textContent]
    .filter(Boolean)
    .map((word) => `${word}.`)
    .join(" ");
  list.append(item);
  document.querySelector(".closedhead")?.removeAttribute("hidden");
}

/**
 * Fill the inputs of a name.
 * @param {string} field
 * @param {string} value
 * @param {ParentNode} within
 */
export function fill(field, value, within = document) {
  for (const input of within.querySelectorAll(`[name="${CSS.escape(field)}"]`)) {
    if (input instanceof HTMLInputElement && input.type === "radio") input.checked = input.value === value;
    else if (input instanceof HTMLInputElement && input.type === "checkbox") input.checked = value === "on";
    else if (input instanceof HTMLInputElement && input.type === "hidden") continue;
    else if (input instanceof HTMLButtonElement) continue;
    else /** @type {HTMLInputElement} */ (input).value = value;
    const more = input.closest("details:not(.man)");
    if (value && more && within !== document) /** @type {HTMLDetailsElement} */ (more).open = true;
  }
}
