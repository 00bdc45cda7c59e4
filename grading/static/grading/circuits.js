// @ts-check
/* What is noted in the circuits of the lesson, as this device knows it: entries by the name of their input, and what
   they come to. The same rules as grading/actions/circuit_entries.py, so that a tablet needs no school to go on. */

export const PARTS = ["takeoff", "downwind", "approach", "landing"];
const TOOK_CONTROL = "took_control",
  TO_STANDARD = "to_standard";

/** @type {Record<string, string>} */
let noted = {};
/** What the page says once: how circuits end, the kind of landing of the type, the step of the main key, the parts. */
let usual = { ends: "full_stop", kind: "", solo: "perform", parts: PARTS };

/** Read anew what the page says of its circuits. */
export function read() {
  const page = document.getElementById("pad"),
    form = document.getElementById("now");
  noted = page ? JSON.parse(page.dataset.noted || "{}") : {};
  if (!form) return;
  const { ends, kind, soloStep } = form.dataset;
  const parts = PARTS.filter((part) => form.querySelector(`[data-part="${part}"] .levels`));
  usual = { ends: ends ?? "", kind: kind ?? "", solo: soloStep ?? "", parts };
}

/** @param {string} field */
export const is = (field) => noted[field] !== undefined;

/**
 * What stands in a field of a circuit.
 * @param {string} field
 * @returns {string}
 */
export function value(field) {
  if (noted[field] !== undefined) return noted[field];
  const [, number, what] = field.split(".");
  if (what === "ending") return usual.ends;
  if (what === "landing_kind")
    return Number(number) > 1 ? value(`circuit.${Number(number) - 1}.landing_kind`) : usual.kind;
  return field.endsWith(".help") ? "none" : "";
}

/**
 * What undo would write into a field: of an ending with control taken, the help of its parts too.
 * @param {string} field
 */
export function before(field) {
  const [, number, what] = field.split(".");
  if (what === TOOK_CONTROL || (what === "ending" && value(field) === TOOK_CONTROL)) {
    const helps = Object.entries(noted).filter(
      ([name]) => name.startsWith(`circuit.${number}.`) && name.endsWith(".help"),
    );
    const ending = value(`circuit.${number}.ending`);
    const words = [ending, ...helps.map(([name, help]) => `${name.split(".")[2]}.${help}`)];
    // A go-around is an ending and a part: with a comma behind it, undo never reads it as the part taken over.
    return words.join(",") + (words.length === 1 && ending === "go_around" ? "," : "");
  }
  return value(field);
}

/**
 * @param {string} field
 * @param {string} text
 */
function put(field, text) {
  if (text && !(field.endsWith(".help") && text === "none")) noted[field] = text;
  else delete noted[field];
}

/**
 * Note an entry of a circuit; returns every field that changed by it.
 * @param {string} field
 * @param {string} text
 * @returns {string[]}
 */
export function note(field, text) {
  const [, number, what, kind] = field.split(".");
  const circuit = `circuit.${number}`;
  if (what === "closed") return close(Number(number), text);
  if (what === "ending" || what === TOOK_CONTROL) return end(circuit, what, text);
  put(field, kind === "level" && text === TO_STANDARD ? usual.solo : text);
  if (kind === "level") put(`${circuit}.${what}.by_closing`, text === TO_STANDARD ? "on" : "");
  return [field];
}

/**
 * @param {string} circuit
 * @param {string} what
 * @param {string} text
 */
function end(circuit, what, text) {
  const changed = [`${circuit}.ending`];
  const helps = Object.keys(noted).filter((name) => name.startsWith(`${circuit}.`) && name.endsWith(".help"));
  const taken = helps.filter((name) => noted[name] === TOOK_CONTROL);
  const clear = () => taken.forEach((name) => changed.push(name) && put(name, "none"));
  const [ending, ...rest] = text.split(",");
  if (what === TOOK_CONTROL && [...PARTS, "go_around"].includes(text)) {
    clear();
    put(`${circuit}.ending`, TOOK_CONTROL);
    put(`${circuit}.${text}.help`, TOOK_CONTROL);
    return [...changed, `${circuit}.${text}.help`];
  }
  if (value(`${circuit}.ending`) === TOOK_CONTROL && ending !== TOOK_CONTROL) clear();
  put(`${circuit}.ending`, ending);
  for (const pair of rest.filter(Boolean)) {
    const [part, help] = pair.split(".");
    put(`${circuit}.${part}.help`, help);
    changed.push(`${circuit}.${part}.help`);
  }
  return changed;
}

/**
 * @param {number} number
 * @param {string} text
 */
function close(number, text) {
  const circuit = `circuit.${number}`,
    field = `${circuit}.closed`;
  const changed = [field];
  if (!text) {
    for (const part of [...PARTS, "go_around"]) {
      if (!noted[`${circuit}.${part}.by_closing`]) continue;
      put(`${circuit}.${part}.level`, "");
      put(`${circuit}.${part}.by_closing`, "");
      changed.push(`${circuit}.${part}.level`);
    }
  } else if (!noted[field]) {
    if (text === TO_STANDARD)
      for (const part of given(number)) {
        put(`${circuit}.${part}.level`, usual.solo);
        put(`${circuit}.${part}.by_closing`, "on");
        changed.push(`${circuit}.${part}.level`);
      }
    put(`${circuit}.ending`, value(`${circuit}.ending`));
    put(`${circuit}.landing_kind`, value(`${circuit}.landing_kind`));
  }
  put(field, text);
  return changed;
}

/**
 * What is tapped in one part.
 * @param {number} number
 * @param {string} part
 */
export function partOf(number, part) {
  const prefix = `circuit.${number}.${part}.`;
  const names = Object.keys(noted).filter((name) => name.startsWith(prefix));
  const under = (/** @type {string} */ what) =>
    names.filter((name) => name.startsWith(prefix + what)).map((name) => name.slice(prefix.length + what.length));
  return {
    level: noted[`${prefix}level`] ?? "",
    help: noted[`${prefix}help`] ?? "none",
    kept: noted[`${prefix}kept`] ?? "",
    faults: under("fault."),
    criteria: under("criterion."),
    measures: under("measure."),
    touched: names.length > 0,
  };
}

/**
 * The parts that the pad offers: after a go-around the next circuit began in the air.
 * @param {number} number
 */
export const offered = (number) =>
  usual.parts.filter(
    (part) =>
      part !== "takeoff" || partOf(number, part).touched || noted[`circuit.${number - 1}.ending`] !== "go_around",
  );

/**
 * The part in which control was taken.
 * @param {number} number
 */
export const takenIn = (number) =>
  value(`circuit.${number}.ending`) === TOOK_CONTROL
    ? offered(number).find((part) => partOf(number, part).help === TOOK_CONTROL)
    : undefined;

/**
 * The parts that the main key would give a level.
 * @param {number} number
 */
export function given(number) {
  const circuit = `circuit.${number}`;
  if (noted[`${circuit}.shown`]) return [];
  const around = value(`${circuit}.ending`) === "go_around";
  let asked = offered(number);
  if (around) asked = [...asked.filter((part) => part !== "landing"), "go_around"];
  const taken = takenIn(number);
  if (taken) asked = asked.slice(0, asked.indexOf(taken));
  return asked.filter((part) => {
    const { level, help } = partOf(number, part);
    return !level && help !== TOOK_CONTROL;
  });
}

/**
 * The part that has a fault and no level yet.
 * @param {number} number
 */
export const owed = (number) =>
  [...PARTS, "go_around"].find((part) => {
    const { level, help, faults } = partOf(number, part);
    return faults.length && !level && help !== TOOK_CONTROL;
  });

/**
 * Whether nothing is tapped in a circuit; its kind of landing is there without a tap.
 * @param {number} number
 */
export const isEmpty = (number) =>
  !noted[`circuit.${number}.shown`] &&
  value(`circuit.${number}.ending`) === usual.ends &&
  ![...PARTS, "go_around"].some((part) => partOf(number, part).touched);

/** @param {number} number */
export const isClosed = (number) => Boolean(noted[`circuit.${number}.closed`]);

/** Every circuit in which something is noted. */
export const numbers = () =>
  [...new Set(Object.keys(noted).map((field) => Number(field.split(".")[1])))].sort((a, b) => a - b);

/** The circuit to write next: the first that is open, else a new one. */
export function next() {
  const all = numbers();
  return all.find((number) => !isClosed(number)) ?? (all.at(-1) ?? 0) + 1;
}

/**
 * The entries of one circuit.
 * @param {number} number
 */
export const entries = (number) =>
  Object.entries(noted).filter(([field]) => field.startsWith(`circuit.${number}.`) && !field.endsWith(".by_closing"));
