// @ts-check
/* Forms that are sent whole: once each, and said when one did not arrive. */
import { alarm } from "./notes.js";

/**
 * @param {(form: HTMLFormElement, key: HTMLElement|null) => boolean} mustWait
 * whether taps before it must be answered first
 */
export function start(mustWait) {
  /* A signature or a decision is sent once, and only after every tap before it. */
  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (
      event.defaultPrevented ||
      form.matches("[data-taps], [data-undo], [data-leave], [hx-post]") ||
      form.method !== "post"
    )
      return;
    if (form.dataset.sent || mustWait(form, event.submitter)) event.preventDefault();
    else form.dataset.sent = "yes";
  });
  window.addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });

  const lost = () =>
    alarm("Not saved: no answer from the school. What you entered is still here; press the button again.");
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:timeout", lost);
  document.addEventListener("htmx:responseError", (event) => {
    const { xhr } = /** @type {CustomEvent} */ (event).detail;
    alarm(`Not saved: the school answered ${xhr.status}. Reload the page; what you saved before is unchanged.`);
  });
}
