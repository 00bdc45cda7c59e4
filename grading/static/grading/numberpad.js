// @ts-check
/* Step keys and the number pad: both write into a number, which is noted once the fingers rest. */

/** @param {(input: HTMLInputElement) => void} later */
export function start(later) {
  /* The first press of a step key sets the target, the next ones move from it. */
  document.addEventListener("click", (event) => {
    const key = /** @type {HTMLElement|null} */ (/** @type {HTMLElement} */ (event.target).closest("[data-step]"));
    if (!key) return;
    const input = /** @type {HTMLInputElement} */ (document.getElementById(key.dataset.for ?? ""));
    input.value = String(
      input.value === "" ? Number(input.dataset.start) : parseFloat(input.value) + Number(key.dataset.step),
    );
    later(input);
  });

  const pad = document.getElementById("numberpad");
  if (!pad) return;
  /** @type {HTMLInputElement|null} */
  let noting = null;
  let fresh = true;
  const write = (/** @type {string} */ id, /** @type {string|undefined} */ text) => {
    const place = document.getElementById(`numberpad-${id}`);
    if (place) place.textContent = text || "\u2013";
  };
  const open = (/** @type {HTMLInputElement|null} */ input) => {
    noting?.classList.remove("now-noting");
    noting = input;
    pad.hidden = !input;
    document.body.classList.toggle("numberpad-open", !!input); // room at the foot of the page
    if (!input) return;
    fresh = true;
    input.classList.add("now-noting");
    write("label", input.dataset.pad);
    write("aim", input.dataset.aim);
    write("value", input.value);
    input.scrollIntoView({ block: "center" });
  };
  /** @type {Record<string, (value: string) => string>} */
  const press = {
    back: (value) => value.slice(0, -1),
    "-": (value) => (value.startsWith("-") ? value.slice(1) : `-${value}`),
    aim: () => noting?.dataset.start ?? "",
  };
  if (matchMedia("(pointer: coarse)").matches || navigator.maxTouchPoints) {
    document.addEventListener("pointerdown", (event) => {
      const target = /** @type {HTMLElement} */ (event.target);
      if (target.dataset?.pad && event.pointerType !== "mouse") target.inputMode = "none";
    });
  }
  document.addEventListener("focusin", (event) => {
    const target = /** @type {HTMLInputElement} */ (event.target);
    if (target.dataset.pad) open(target);
    else if (noting && !pad.contains(target)) open(null);
  });
  document.addEventListener("input", (event) => {
    if (event.target === noting) write("value", noting?.value);
  });
  pad.addEventListener("pointerdown", (event) => event.preventDefault()); // the number keeps the focus
  pad.addEventListener("click", (event) => {
    const digit = /** @type {HTMLElement|null} */ (/** @type {HTMLElement} */ (event.target).closest("[data-digit]"))
      ?.dataset.digit;
    if (!digit || !noting) return;
    if (digit === "done" || digit === "next") {
      const all = [...(noting.closest(".gate")?.querySelectorAll("[data-pad]") ?? [])];
      const next = /** @type {HTMLElement|undefined} */ (digit === "next" ? all[all.indexOf(noting) + 1] : undefined);
      if (next) next.focus();
      else {
        noting.blur();
        open(null);
      }
      return;
    }
    const value = fresh && digit !== "back" && digit !== "-" ? "" : noting.value;
    fresh = false;
    noting.value = press[digit] ? press[digit](value) : value + digit;
    write("value", noting.value);
    later(noting);
  });
}
