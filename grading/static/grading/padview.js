// @ts-check
/* The circuit pad on the screen: which circuit it shows, and what its keys, the strip and the main key say. */
import * as circuits from "./circuits.js";
import { entry } from "../school/notes.js";

const form = () => /** @type {HTMLFormElement|null} */ (document.getElementById("now"));
const byId = (/** @type {string} */ id) => document.getElementById(id);
const NAMES = {
  takeoff: "takeoff",
  downwind: "downwind",
  approach: "approach",
  landing: "landing",
  go_around: "go-around",
};
const HELPS = { prompted: "prompted", assisted: "assisted", took_control: "took control", none: "no help" };
const COUNT = ["No parts", "The part", "Both parts", "All three parts", "All four parts"];
const PATTERN = ["circuit", "part", "kind"];
/** The part that a phone shows, and the fault that was tapped last, of each part. */
let here = "takeoff";
/** @type {Record<string, string>} */
let lastFault = {};

/**
 * @param {Element|null|undefined} element
 * @param {string} text
 */
const write = (element, text) => {
  if (element && element.textContent !== text) element.textContent = text;
};
const capital = (/** @type {string} */ text) => text.charAt(0).toUpperCase() + text.slice(1);
const nameOf = (/** @type {string} */ part) => NAMES[/** @type {keyof NAMES} */ (part)] ?? part;
const fieldset = (/** @type {string} */ part) => form()?.querySelector(`fieldset[data-part="${part}"]`) ?? null;

/**
 * The circuit on the pad.
 * @returns {number|null}
 */
export const onPad = () => (form() ? Number(form()?.dataset.number) : null);

/* ------- filling ------- */

/**
 * Fill the inputs of a name.
 * @param {string} field
 * @param {string} value
 * @param {ParentNode} within
 */
export function fill(field, value, within = document) {
  for (const input of within.querySelectorAll(`[name="${CSS.escape(field)}"]`)) {
    if (input instanceof HTMLButtonElement) {
      if (input.hasAttribute("aria-pressed")) input.setAttribute("aria-pressed", String(isOn(input, value)));
    } else if (!(input instanceof HTMLInputElement)) /** @type {HTMLTextAreaElement} */ (input).value = value;
    else if (input.type === "radio") input.checked = input.value === value;
    else if (input.type === "checkbox") input.checked = value === input.value;
    else if (input.type === "hidden") input.value = keptIn(input, value);
    else input.value = value;
  }
}

/** A hidden field goes before its box in a plain form: only control that was taken stands in one. */
const keptIn = (/** @type {HTMLInputElement} */ input, /** @type {string} */ value) =>
  input.name.endsWith(".help") ? (value === "took_control" ? value : "none") : input.value;

/**
 * @param {HTMLButtonElement} key
 * @param {string} value
 */
const isOn = (key, value) =>
  key.value === value ||
  (key.classList.contains("step") && value !== "" && Number(value.replace("\u2212", "-")) === Number(key.value));

/**
 * Put a circuit on the pad, filled with what stands in it.
 * @param {number} number
 */
export function turnTo(number) {
  const pad = form();
  if (!pad) return;
  rename(pad, number);
  pad.dataset.number = String(number);
  for (const more of pad.querySelectorAll("details")) more.open = false;
  for (const input of pad.querySelectorAll("input")) empty(input);
  for (const key of pad.querySelectorAll("button[aria-pressed=true][name]")) key.setAttribute("aria-pressed", "false");
  for (const [field, value] of circuits.entries(number)) fill(field, value, pad);
  for (const name of ["ending", "landing_kind"])
    fill(`circuit.${number}.${name}`, circuits.value(`circuit.${number}.${name}`), pad);
  lastFault = {};
  here = circuits.offered(number)[0] ?? "takeoff";
  say("");
  draw();
}

/** @param {HTMLInputElement} input */
function empty(input) {
  if (input.name === "circuit") input.value = form()?.dataset.number ?? "";
  else if (input.type === "radio" || input.type === "checkbox") input.checked = false;
  else if (input.type !== "hidden") input.value = "";
}

/**
 * Names and ids of the pad speak of its circuit.
 * @param {HTMLFormElement} pad
 * @param {number} number
 */
function rename(pad, number) {
  const old = pad.dataset.number;
  if (old === String(number)) return;
  for (const element of pad.querySelectorAll(
    "[name^='circuit.'], [id^='circuit'], [id^='pad-circuit'], [id^='said-circuit'], [for], [data-for]",
  )) {
    for (const name of ["name", "id", "for", "data-for"]) {
      const value = element.getAttribute(name);
      if (value)
        element.setAttribute(
          name,
          value.replace(`circuit.${old}.`, `circuit.${number}.`).replace(`circuit-${old}-`, `circuit-${number}-`),
        );
    }
  }
  for (const said of pad.querySelectorAll(".said")) said.replaceChildren();
}

/* ------- what counts ------- */

/**
 * @param {string} code
 * @returns {{label: string, level: string}}
 */
function step(code) {
  const input = /** @type {HTMLInputElement|null} */ (
    form()?.querySelector(`.level input[value="${CSS.escape(code)}"]`)
  );
  return { label: input?.parentElement?.textContent?.trim() ?? code, level: input?.dataset.level ?? "" };
}

/**
 * How far a number is off, in words; empty within its tolerance.
 * @param {DOMStringMap} row
 * @param {string} value
 */
export function away(row, value) {
  const [number, unit] = value.replace("\u2212", "-").trim().split(" ");
  const off = Number(number) - Number(row.aim);
  // A number in another unit is judged by the school.
  if (Number.isNaN(off) || (unit && unit !== row.unit)) return { words: "", outside: false, side: "" };
  const [above, below] = (row.sides ?? "/").split("/");
  const outside = off > Number(row.over) || off < -Number(row.under);
  const words = off
    ? `${Math.abs(off).toLocaleString("en", { maximumFractionDigits: 1 })} ${row.unit} ${off > 0 ? above : below}`
    : "on target";
  return { words, outside, side: off > 0 ? "over" : "under" };
}

/**
 * The numbers of a part that lie outside and count.
 * @param {number} number
 * @param {string} part
 */
function outside(number, part) {
  const rows = [];
  for (const row of /** @type {NodeListOf<HTMLElement>} */ (fieldset(part)?.querySelectorAll(".nrow") ?? [])) {
    const value = circuits.value(`circuit.${number}.${part}.measure.${row.dataset.sign}`);
    const found = value ? away(row.dataset, value) : null;
    if (found?.outside && row.dataset.later === undefined)
      rows.push({ ...found, sign: `${row.dataset.sign}.${found.side}` });
  }
  return rows;
}

/**
 * The fault of a part.
 * @param {string} part
 * @param {string} code
 */
const faultInput = (part, code) => /** @type {HTMLInputElement|null} */ (byId(`circuit-${onPad()}-${part}-${code}`));

/** Why a part counts as less than was tapped: what its help, faults, criteria and numbers leave of it. */
function reasons(/** @type {number} */ number, /** @type {string} */ part) {
  const { help, faults, criteria, kept } = circuits.partOf(number, part);
  const firm = help === "none" ? [] : [HELPS[/** @type {keyof HELPS} */ (help)]];
  for (const code of faults) {
    const input = faultInput(part, code);
    if (input?.dataset.critical !== undefined) firm.push((input.dataset.name ?? code).toLowerCase());
  }
  const soft = outside(number, part).map((row) => row.words);
  for (const code of criteria)
    if (circuits.value(`circuit.${number}.${part}.criterion.${code}`) === "not_done") soft.push("a criterion not done");
  return { firm, soft, all: kept ? firm : [...firm, ...soft] };
}

/** What is, and what the main key will have, in one part. */
function result(/** @type {number} */ number, /** @type {string} */ part) {
  const { level, help } = circuits.partOf(number, part),
    data = form()?.dataset ?? {};
  const code = level || (circuits.given(number).includes(part) ? (data.soloStep ?? "") : "");
  if (!code)
    return {
      words: help === "took_control" ? "took control" : "not graded",
      good: false,
      none: help !== "took_control",
      level,
    };
  const { all } = reasons(number, part);
  const lowers = all.length > 0 && step(code).level === "perform";
  const counted = lowers ? ((help === "took_control" ? data.taken : data.lowered) ?? code) : code;
  return {
    words: step(counted).label + (lowers ? ` (${all[0]})` : ""),
    good: code === data.soloStep && !lowers,
    none: false,
    level,
    counted: step(counted).label,
    lowers,
  };
}

/* ------- drawing: only what differs is written ------- */

/** Draw all that the pad says of its circuit. */
export function draw() {
  const number = onPad();
  if (number === null) return;
  for (const part of [...circuits.PARTS, "go_around"]) drawPart(number, part);
  drawWhole(number);
  drawStrip();
}

/**
 * Draw what an entry can have changed.
 * @param {string[]} fields
 */
export function drawChanged(fields) {
  const number = onPad();
  if (number === null) return;
  const parts = new Set(fields.map((field) => field.split(".")[2]));
  const whole = ["ending", "took_control", "shown", "closed"].some((name) => parts.has(name));
  for (const part of [...circuits.PARTS, "go_around"]) if (whole || parts.has(part)) drawPart(number, part);
  drawWhole(number);
  drawStrip();
}

/**
 * @param {number} number
 * @param {string} part
 */
function drawPart(number, part) {
  const place = fieldset(part);
  if (!place?.querySelector(".levels")) return;
  const { level, help, faults, measures } = circuits.partOf(number, part),
    now = result(number, part),
    soft = reasons(number, part).soft;
  const off = part === "takeoff" && !circuits.offered(number).includes(part);
  place.classList.toggle("off", off);
  if (part === "takeoff")
    write(place.querySelector(".none"), off ? "No takeoff: the circuit before ended with a go-around." : "");
  const taken = circuits.takenIn(number);
  const after = taken && circuits.PARTS.indexOf(part) > circuits.PARTS.indexOf(taken);
  const state = place.querySelector(".state");
  const words = level
    ? now.lowers
      ? `${step(level).label} tapped, counts ${now.counted}`
      : step(level).label
    : help === "took_control"
      ? "took control"
      : now.lowers
        ? `counts ${now.counted}`
        : after
          ? "not graded"
          : "not tapped";
  write(state, off ? "no takeoff" : words);
  state?.classList.toggle("has", Boolean(level) || help !== "none" || Boolean(now.lowers));
  write(
    place.querySelector(".faults > summary small"),
    faults.length === 1
      ? (faultInput(part, faults[0])?.dataset.name ?? "1 tapped")
      : faults.length
        ? `${faults.length} tapped`
        : "",
  );
  write(place.querySelector(".numbers > summary small"), measures.length ? `${measures.length} noted` : "");
  place.querySelector(".keep")?.classList.toggle("can", soft.length > 0);
  for (const key of place.querySelectorAll(".quick")) {
    const box = /** @type {HTMLInputElement|null} */ (byId(/** @type {HTMLElement} */ (key).dataset.for ?? ""));
    key.setAttribute("aria-pressed", String(Boolean(box?.checked)));
  }
  for (const field of /** @type {NodeListOf<HTMLInputElement>} */ (place.querySelectorAll(".exact")))
    field.classList.toggle("chosen", field.value !== "" && !field.parentElement?.querySelector("[aria-pressed=true]"));
  drawWhy(place, number, part, faults);
}

/** Cause and cure of the fault that was tapped last, and what the numbers point to. */
function drawWhy(
  /** @type {Element} */ place,
  /** @type {number} */ number,
  /** @type {string} */ part,
  /** @type {string[]} */ faults,
) {
  const box = /** @type {HTMLElement|null} */ (place.querySelector("[data-why]"));
  if (!box) return;
  const code = faults.includes(lastFault[part]) ? lastFault[part] : (faults.at(-1) ?? "");
  const signs = outside(number, part).map((row) => row.sign);
  const key = [code, ...signs, ...faults].join(" ");
  if (box.dataset.of === key) return;
  box.dataset.of = key;
  const lines = [];
  const fault = code ? faultInput(part, code)?.dataset : undefined;
  if (fault)
    lines.push(
      line(["b", fault.name ?? ""]),
      line(["b", "Cause "], ["", fault.cause ?? ""]),
      line(["b", "Cure "], ["", fault.cure ?? ""]),
    );
  const pointed = [.../** @type {NodeListOf<HTMLInputElement>} */ (place.querySelectorAll("[data-signs]"))]
    .filter((input) => !input.checked && input.dataset.signs?.split(" ").some((sign) => signs.includes(sign)))
    .map((input) => input.dataset.name);
  if (pointed.length)
    lines.push(line(["", "The numbers point to: "], ["b", pointed.join(", ")], ["", ". If you saw it, tap it."]));
  if (!lines.length) lines.push(line(["", "Tap what you saw. Its cause and cure come up here."]));
  box.replaceChildren(...lines);
}

/** @param {...string[]} pieces */
function line(...pieces) {
  const place = document.createElement("p");
  for (const [tag, text] of pieces) {
    if (!tag) place.append(text);
    else place.append(Object.assign(document.createElement(tag), { textContent: text }));
  }
  return place;
}

/** @param {number} number */
function drawWhole(number) {
  const pad = form();
  if (!pad) return;
  const again = circuits.isClosed(number);
  write(byId("pad-name"), `Circuit ${number}${again ? ", opened again" : ""}`);
  const ending = circuits.value(`circuit.${number}.ending`);
  const took = byId("took-control");
  took?.querySelector("summary")?.classList.toggle("chosen", ending === "took_control");
  for (const key of /** @type {NodeListOf<HTMLButtonElement>} */ (took?.querySelectorAll("[name]") ?? []))
    key.setAttribute("aria-pressed", String(circuits.takenIn(number) === key.value));
  const landing = circuits.partOf(number, "landing");
  const seen = landing.faults.map((code) => faultInput("landing", code)?.dataset.name?.toLowerCase() ?? code);
  write(
    byId("around-after"),
    landing.touched
      ? `after a landing attempt: ${seen.join(", ") || (landing.level ? step(landing.level).label : "no level")}, kept`
      : "from the approach, no landing",
  );
  drawTabs(number);
  drawMain(number, again);
}

/** @param {number} number */
function drawTabs(number) {
  for (const tab of /** @type {NodeListOf<HTMLElement>} */ (form()?.querySelectorAll(".tab") ?? [])) {
    const part = tab.dataset.part ?? "";
    tab.setAttribute("aria-pressed", String(part === here));
    const { level, help } = circuits.partOf(number, part);
    const name =
      level || help !== "none" ? `${level ? step(level).level : "not_observed"}-${help}` : "not_observed-none";
    const cell = /** @type {HTMLElement|null} */ (tab.querySelector("i"));
    if (!cell || cell.dataset.is === name) continue;
    cell.dataset.is = name;
    cell.replaceChildren(...mark(name));
  }
  for (const part of circuits.PARTS) fieldset(part)?.classList.toggle("here", part === here);
}

/** Why no key closes while it is asked in which part control was taken. */
export const tookOpen = () =>
  /** @type {HTMLDetailsElement|null} */ (byId("took-control"))?.open
    ? "Not closed: tap the part in which you took control."
    : "";

/**
 * Why the main key does not close a circuit, empty where it does.
 * @param {number} number
 */
export function refusal(number) {
  if (tookOpen()) return tookOpen();
  const part = circuits.owed(number);
  return part ? `Not closed: ${nameOf(part)} has a fault, tap its level.` : "";
}

/**
 * @param {number} number
 * @param {boolean} again
 */
function drawMain(number, again) {
  const owed = circuits.owed(number),
    shown = circuits.value(`circuit.${number}.shown`),
    key = /** @type {HTMLButtonElement|null} */ (byId("main-key"));
  if (!key) return;
  const took = tookOpen();
  const words = again
    ? `Close circuit ${number}, back to ${circuits.next()}`
    : shown
      ? "Shown, next circuit"
      : circuits.isEmpty(number)
        ? "To standard, next circuit"
        : "Rest to standard, next circuit";
  write(byId("main-words"), words);
  const owes = !again && owed ? `${capital(nameOf(owed))} has a fault: tap its level first` : "";
  write(byId("main-line"), took ? "Tap the part first" : owes || summary(number));
  key.value = again ? "on" : "to_standard";
  key.classList.toggle("shutkey", Boolean(took || owes));
  byId("close-key")?.classList.toggle("shutkey", Boolean(took));
}

/**
 * A circuit in one sentence, as the main key leaves it.
 * @param {number} number
 */
export function summary(number) {
  if (circuits.value(`circuit.${number}.shown`)) return "Shown by the instructor: counts for the hours only";
  const around = circuits.value(`circuit.${number}.ending`) === "go_around";
  const parts = circuits
    .offered(number)
    .filter((part) => !around || part !== "landing" || circuits.partOf(number, part).touched);
  if (around) parts.push("go_around");
  const rows = parts.map((part) => ({ part, ...result(number, part) }));
  const good = rows.filter((row) => row.good),
    none = rows.filter((row) => row.none),
    rest = rows.filter((row) => !row.good && !row.none);
  const solo = step(form()?.dataset.soloStep ?? "").label;
  const said = rest.map((row) => `${nameOf(row.part)} ${row.words}`);
  if (good.length && good.length === rows.length && !around)
    said.push(`${COUNT[good.length] ?? "All parts"} ${solo}, without help`);
  else if (good.length)
    said.push(
      `${good.length === 1 ? nameOf(good[0].part) : rest.length || none.length ? "the rest" : "all parts"} ${solo}`,
    );
  if (none.length) said.push(`${none.map((row) => nameOf(row.part)).join(", ")} not graded`);
  return capital(said.join("; "));
}

/* ------- the strip ------- */

/** @param {string} name */
const mark = (name) => {
  const store = /** @type {HTMLTemplateElement|null} */ (byId("pad-marks"));
  return [...(store?.content.querySelector(`[data-mark="${name}"]`)?.childNodes ?? [])].map((node) =>
    node.cloneNode(true),
  );
};

/** Every column that differs from what is noted; the newest stays in view. */
export function drawStrip() {
  const closed = byId("closed"),
    open = byId("open-circuits"),
    pad = onPad();
  if (!closed || !open || pad === null) return;
  const last = circuits.next();
  const all = [...new Set([...circuits.numbers(), pad, last])].sort((a, b) => a - b);
  for (const list of [closed, open])
    for (const item of [...list.children]) {
      const number = Number(/** @type {HTMLElement} */ (item).dataset.circuit);
      if (!all.includes(number) || circuits.isClosed(number) !== (list === closed)) item.remove();
    }
  for (const number of all) {
    const list = circuits.isClosed(number) ? closed : open;
    const old = /** @type {HTMLElement|null} */ (list.querySelector(`[data-circuit="${number}"]`));
    const state = columnState(number);
    if (old?.dataset.is === state.key) continue;
    // Drawn by the school and not changed since: only what differs is drawn anew.
    if (old && !old.dataset.is && number !== pad && circuits.isClosed(number)) {
      old.dataset.is = state.key;
      continue;
    }
    const made = column(number, state);
    if (old) old.replaceWith(made);
    else
      list.insertBefore(
        made,
        [...list.children].find((item) => Number(/** @type {HTMLElement} */ (item).dataset.circuit) > number) ?? null,
      );
  }
  // The newest is in view, except while an older one is looked at.
  const box = closed.parentElement;
  if (box && pad === last && box.dataset.end !== String(last)) box.scrollLeft = box.scrollWidth;
  if (box) box.dataset.end = String(pad === last ? last : "");
}

/** @param {number} number */
function columnState(number) {
  const around = circuits.value(`circuit.${number}.ending`) === "go_around",
    shown = Boolean(circuits.value(`circuit.${number}.shown`)) && circuits.isClosed(number);
  const parts = circuits.PARTS.filter((part) => fieldset(part)?.querySelector(".levels")),
    offered = circuits.offered(number);
  const cells = parts.map((part) => {
    const { level, help } = circuits.partOf(number, part);
    const marks = level || help !== "none" ? [`${level ? step(level).level : "not_observed"}-${help}`] : [];
    if (part === "landing" && around) marks.push("go_around-none");
    return marks.length ? marks : offered.includes(part) ? ["not_observed-none"] : [];
  });
  const words = shown
    ? ["shown by the instructor"]
    : [...parts, ...(around ? ["go_around"] : [])].map((part) => {
        const { level, help } = circuits.partOf(number, part);
        if (!level && help === "none")
          return `${part === "takeoff" && !offered.includes(part) ? "no takeoff" : `${nameOf(part)} not graded`}`;
        return [nameOf(part), level && step(level).label, help !== "none" && HELPS[/** @type {keyof HELPS} */ (help)]]
          .filter(Boolean)
          .join(" ");
      });
  const now = number === onPad();
  return { cells, words, shown, now, key: JSON.stringify([cells, words, shown, now]) };
}

/**
 * @param {number} number
 * @param {ReturnType<typeof columnState>} state
 */
function column(number, state) {
  const item = document.createElement("li"),
    link = document.createElement("a");
  item.dataset.circuit = String(number);
  item.dataset.is = state.key;
  link.className = `col reopen${state.shown ? " isshown" : ""}`;
  link.href = `?circuit=${number}#circuits`;
  link.setAttribute("aria-label", `Circuit ${number}: ${state.words.join("; ")}`);
  if (state.now) link.setAttribute("aria-current", "step");
  link.append(Object.assign(document.createElement("b"), { textContent: String(number) }));
  if (state.shown) link.append(Object.assign(document.createElement("em"), { textContent: "shown" }));
  else {
    const cells = document.createElement("i");
    for (const marks of state.cells) {
      const cell = document.createElement("span");
      cell.append(...marks.flatMap(mark));
      cells.append(cell);
    }
    link.append(cells);
  }
  item.append(link);
  return item;
}

/* ------- words ------- */

const soloStep = () => form()?.dataset.soloStep ?? "";
const labelOf = (/** @type {string} */ id) => byId(id)?.parentElement?.textContent?.trim().toLowerCase();

/**
 * @param {string} text
 * @param {boolean} [wrong]
 */
export function say(text, wrong = false) {
  write(byId("pad-said"), wrong ? "" : text);
  write(byId("pad-wrong"), wrong ? text : "");
}

/**
 * An entry in plain words, as undo takes it back: "landing: Practice".
 * @param {string} field
 * @param {string} value
 */
export function words(field, value) {
  const [circuit, number, what, kind, ...rest] = field.split(".");
  if (circuit !== PATTERN[0]) return entry(field, value);
  const other = Number(number) === onPad() ? "" : `circuit ${number}, `;
  if (what === "closed") return value ? `circuit ${number}, closed` : `circuit ${number}, opened`;
  if (what === "took_control") return `${other}took control, ${nameOf(circuits.takenIn(Number(number)) ?? "")}`;
  if (what === "ending") return `${other}ended: ${endingLabel(value)}`;
  if (what === "landing_kind")
    return `${other}kind of landing: ${labelOf(`landing-kind-${value}`) ?? value}`;
  if (what === "shown") return `${other}${value ? "shown by the instructor" : "flown by the student"}`;
  const part = nameOf(what);
  if (kind === "level")
    return `${other}${part}: ${value ? step(value === "to_standard" ? soloStep() : value).label : "no level"}`;
  if (kind === "help") return `${other}${part}: ${HELPS[/** @type {keyof HELPS} */ (value)] ?? value}`;
  if (kind === "fault")
    return `${other}${part}: ${faultInput(what, rest[0])?.dataset.name ?? rest[0]}${value ? "" : ", taken off"}`;
  if (kind === "measure") {
    const row = /** @type {HTMLElement|null} */ (
      fieldset(what)?.querySelector(`.nrow[data-sign="${CSS.escape(rest.join("."))}"]`)
    );
    const unit = value.includes(" ") ? "" : (row?.dataset.unit ?? "");
    return `${other}${row?.dataset.label ?? rest.join(" ")} ${value ? `${value} ${unit}` : "empty"}`.trim();
  }
  if (kind === "kept") return `${other}${part}: level ${value ? `kept, ${value}` : "not kept"}`;
  return entry(field, value);
}

/** @param {string} value */
const endingLabel = (value) =>
  value.startsWith("took_control")
    ? "took control"
    : (byId(`ending-${value}`)?.textContent?.trim().toLowerCase() ?? value.replace(/_/g, " "));

/** @param {string} text what undo would take back, empty for nothing */
export function showUndo(text) {
  write(byId("undo-words"), text || "nothing yet");
  byId("pad-undo")?.classList.toggle("empty", !text);
}

/* ------- details ------- */

/**
 * Lay a detail over the pad, or take the open one away.
 * @param {HTMLDetailsElement|null} [detail]
 */
export function open(detail) {
  for (const other of form()?.querySelectorAll("details") ?? []) if (other !== detail) other.open = false;
  if (detail) detail.open = true;
}

/**
 * Open the grade of a go-around as soon as one is tapped.
 * @param {string} value
 */
export const openEnding = (value) =>
  open(value === "go_around" ? /** @type {HTMLDetailsElement|null} */ (byId("around")) : null);

/** @param {HTMLElement} target */
function press(target) {
  const shut = target.closest("[data-shut]"),
    page = /** @type {HTMLElement|null} */ (target.closest("[data-page]")),
    tab = /** @type {HTMLElement|null} */ (target.closest(".tab")),
    quick = /** @type {HTMLElement|null} */ (target.closest(".quick"));
  if (shut) {
    const detail = /** @type {HTMLDetailsElement|null} */ (shut.closest("details"));
    if (detail) detail.open = false;
    /** @type {HTMLElement|null} */ (detail?.querySelector("summary"))?.focus();
  }
  if (page) page.closest(".panel")?.classList.toggle("restshown", page.dataset.page === "rest");
  if (quick) byId(quick.dataset.for ?? "")?.click();
  if (tab) {
    const kind = form()?.querySelector("details[open]")?.className;
    here = tab.dataset.part ?? here;
    const same = kind ? fieldset(here)?.querySelector(`details[class="${kind}"]`) : null;
    open(/** @type {HTMLDetailsElement|null} */ (same ?? null));
    drawWhole(onPad() ?? 0);
  }
}

export function start() {
  // Drawn while it could not be seen, the strip had no end to go to.
  window.addEventListener("hashchange", () => {
    const box = byId("closed")?.parentElement;
    if (box) delete box.dataset.end;
    drawStrip();
  });
  document.addEventListener("click", (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    if (target.closest("#pad")) press(target);
  });
  document.addEventListener("change", (event) => {
    const box = /** @type {HTMLInputElement} */ (event.target);
    if (!box.closest("#now")) return;
    // Two boxes of one name: a second tap on one clears it, a tap on the other takes its place.
    if (box.dataset.off !== undefined && box.checked)
      for (const other of /** @type {NodeListOf<HTMLInputElement>} */ (
        form()?.querySelectorAll(`[type=checkbox][name="${CSS.escape(box.name)}"]`) ?? []
      ))
        if (other !== box) other.checked = false;
    const [, , part, kind, code] = box.name.split(".");
    if (kind === "fault" && box.checked) lastFault[part] = code;
  });
  document.addEventListener(
    "toggle",
    (event) => {
      const detail = /** @type {HTMLDetailsElement} */ (event.target);
      if (!detail.closest?.("#now")) return;
      // The browser keeps one of a name open; an older one leaves both, and one would cover keys of the other.
      if (detail.open) open(detail);
      else detail.querySelector(".panel")?.classList.remove("restshown");
      drawWhole(onPad() ?? 0);
    },
    true,
  );
  document.addEventListener("keydown", (event) => {
    const detail = /** @type {HTMLDetailsElement|null} */ (form()?.querySelector("details[open]"));
    if (event.key !== "Escape" || !detail) return;
    detail.open = false;
    /** @type {HTMLElement|null} */ (detail.querySelector("summary"))?.focus();
  });
}
