/* Sends each tap as it is made and says whether it is saved. Without this file every form works whole. */
(() => {
  "use strict";
  const say = (text) => {
    const place = document.getElementById("saved");
    if (place) place.lastElementChild.textContent = text;
  };

  /* One entry: its name, its value, an id of its own so that a repeated sending is applied once. */
  const send = (input) => {
    const form = input.form;
    const url = form && form.dataset.taps;
    if (!url) return;
    const value = input.type === "checkbox" ? (input.checked ? input.value : "") : input.value;
    const values = { [input.name]: value, tap: crypto.randomUUID() };
    say("Saving");
    htmx.ajax("POST", url, { source: input, target: input, swap: "none", values });
  };

  document.addEventListener("change", (event) => {
    if (event.target.name && event.target.closest("[data-taps]")) send(event.target);
  });

  /* The first press of a step key sets the target itself, the next ones move from it. */
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-step]");
    if (!key) return;
    const input = document.getElementById(key.dataset.for);
    const now = input.value === "" ? Number(input.dataset.start) : Number(input.value) + Number(key.dataset.step);
    input.value = String(now);
    clearTimeout(input.waiting);
    input.waiting = setTimeout(() => send(input), 400);
  });

  /* A tap sends its own entry only, not the whole form around it; its form's keys send the form. */
  document.addEventListener("htmx:configRequest", (event) => {
    const source = event.detail.elt;
    const data = event.detail.formData;
    if (!source.name || !data.has("tap")) return;
    const own = new Set([source.name, "tap"]);
    for (const name of [...data.keys()]) if (!own.has(name)) data.delete(name);
    const unticked = source.type === "checkbox" && !source.checked;
    data.set(source.name, unticked ? "" : source.value);
  });

  const lost = () => say("Not saved: no answer from the school. What you tapped is shown here; tap it again.");
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:timeout", lost);
  document.addEventListener("htmx:responseError", (event) => {
    say(`Not saved: the school answered ${event.detail.xhr.status}. Load the page again; earlier taps are kept.`);
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.xhr.status === 422) say("The last entry was not saved: see the sentence above.");
  });

  /* A signature or a decision is sent once. */
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.taps || form.hasAttribute("hx-post")) return;
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
  window.addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });
})();
