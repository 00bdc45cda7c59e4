// @ts-check
/* Digits for the exact number at a gate: they lie where the rows of steps are, with the field in them. */
import { away } from "./padview.js";

/** @param {(input: HTMLInputElement) => void} later */
export function start(later) {
  /** @type {HTMLInputElement|null} */
  let noting = null;
  let fresh = true;
  const pad = () => document.getElementById("numberpad");
  const write = (/** @type {string} */ id, /** @type {string|undefined} */ text) => {
    const place = document.getElementById(`numberpad-${id}`);
    if (place) place.textContent = text || "\u2013";
  };
  const show = () => {
    const value = noting?.value ?? "",
      row = /** @type {HTMLElement|null} */ (noting?.closest(".nrow"));
    write("value", value);
    const { words, outside } = row && value ? away(row.dataset, value) : { words: "", outside: false };
    write("said", words && `${words}, ${outside ? "outside" : "within"} tolerance`);
  };
  const open = (/** @type {HTMLInputElement|null} */ input) => {
    noting?.classList.remove("now-noting");
    noting = input;
    const digits = pad(),
      panel = input?.closest(".panel");
    if (!digits) return;
    digits.hidden = !input || !panel;
    if (!input || !panel) return;
    fresh = true;
    input.classList.add("now-noting");
    write("label", input.dataset.pad);
    write("aim", input.dataset.aim);
    show();
    // Under the head of the panel, which says what is open and shuts it.
    const box = panel.getBoundingClientRect(),
      head = panel.querySelector(".phead")?.getBoundingClientRect();
    const top = head?.bottom ?? box.top;
    Object.assign(digits.style, {
      left: `${box.left + 4}px`,
      top: `${top}px`,
      width: `${box.width - 8}px`,
      height: `${box.bottom - top - 4}px`,
    });
  };
  /** @type {Record<string, (value: string) => string>} */
  const press = {
    back: (value) => value.slice(0, -1),
    "-": (value) => (value.startsWith("-") ? value.slice(1) : `-${value}`),
    clear: () => "",
  };
  // A finger gets the digits of the pad, a keyboard types into the field.
  document.addEventListener("pointerdown", (event) => {
    const target = /** @type {HTMLElement} */ (event.target);
    if (target.dataset?.pad) {
      if (event.pointerType !== "mouse") target.inputMode = "none";
      open(/** @type {HTMLInputElement} */ (target));
    } else if (target.closest("#numberpad"))
      event.preventDefault(); // the number keeps the focus
    else if (noting) open(null);
  });
  document.addEventListener(
    "toggle",
    () => {
      if (noting && !noting.closest("details")?.open) open(null);
    },
    true,
  );
  document.addEventListener("input", (event) => {
    if (event.target === noting) show();
  });
  document.addEventListener("click", (event) => {
    const key = /** @type {HTMLElement|null} */ (/** @type {HTMLElement} */ (event.target).closest("[data-digit]"));
    const digit = key?.dataset.digit;
    if (!digit || !noting) return;
    if (digit === "done" || digit === "next") {
      const all = [...(noting.closest(".rows")?.querySelectorAll("[data-pad]") ?? [])];
      const next = /** @type {HTMLInputElement|undefined} */ (
        digit === "next" ? all[all.indexOf(noting) + 1] : undefined
      );
      noting.blur();
      open(next ?? null);
      next?.focus();
      return;
    }
    const value = fresh && digit !== "back" && digit !== "-" ? "" : noting.value;
    fresh = false;
    noting.value = press[digit] ? press[digit](value) : value + digit;
    show();
    later(noting);
  });
}
