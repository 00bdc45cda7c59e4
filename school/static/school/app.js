/* Sends each tap as it is made and says whether it is saved. Without this file every form works whole. */
(() => {
  "use strict";
  const queue = new Map(); // by name of the input: what the school has not answered for yet, oldest first
  let sending = null, stuck = false, held = null, heldUndo = false, away = false, retry = 0;

  const say = (text, unsent = false) => {
    const place = document.getElementById("saved");
    if (!place) return;
    place.classList.toggle("unsent", unsent);
    if (place.lastElementChild.textContent !== text) place.lastElementChild.textContent = text;
  };
  const tell = () => {
    if (stuck && away) say(`Not saved yet, on this device only: ${queue.size}. You are logged out: log in in another window, then tap again.`, true);
    else if (stuck) say(`Not saved yet, on this device only: ${queue.size}. Leave the page open; it is sent again by itself.`, true);
    else if (queue.size) say("Saving");
  };

  /* One entry at a time, so that they arrive in the order they were made. A tap has an id: sent twice, applied once. */
  const pump = () => {
    clearTimeout(retry);
    for (const [name, entry] of sending ? [] : queue) {
      if (entry.input.isConnected) {
        sending = entry;
        const { input, url, values } = entry;
        htmx.ajax("POST", url, { source: input, target: input, swap: "none", values }).catch(() => {}); // answered below
        return;
      }
      queue.delete(name); // its form was sent whole, or the page shows that it is not on record
    }
    if (!queue.size && heldUndo) {
      heldUndo = false; // its key was made anew with the answer before it
      setTimeout(() => document.getElementById("undo-key")?.click(), 50);
    }
    if (!queue.size && held) {
      const { form, key } = held;
      held = null;
      form.requestSubmit(key);
    }
  };
  const send = (input) => {
    const url = input.form && input.form.dataset.taps;
    if (!url) return;
    const value = input.type === "checkbox" && !input.checked ? "" : input.value;
    queue.delete(input.name);
    queue.set(input.name, { input, url, values: { [input.name]: value, tap: crypto.randomUUID() } });
    tell();
    pump();
  };
  document.addEventListener("htmx:afterRequest", (event) => {
    const { xhr, requestConfig } = event.detail;
    if (!sending || requestConfig.elt !== sending.input) return tell(); // an answer for one does not hide what waits
    // A session that has ended is answered with the login page: that is no answer to an entry.
    const elsewhere = xhr.status === 403 || (xhr.responseURL && new URL(xhr.responseURL).pathname !== sending.url);
    const entry = sending, answered = xhr.status > 0 && xhr.status < 500 && !elsewhere;
    sending = null;
    if (answered && queue.get(entry.input.name) === entry) queue.delete(entry.input.name);
    if (xhr.status >= 400 || !answered) held = null;
    away = Boolean(elsewhere);
    stuck = queue.size > 0 && (stuck || !answered);
    tell();
    if (answered) pump();
    else retry = setTimeout(pump, 3000);
  });
  window.addEventListener("online", pump);
  window.addEventListener("beforeunload", (event) => stuck && event.preventDefault());

  /* Taking back waits for every tap before it, else it would take back an earlier one. */
  document.addEventListener("htmx:confirm", (event) => {
    if (!queue.size || !event.detail.elt.closest("#undo")) return;
    event.preventDefault();
    heldUndo = true;
  });

  document.addEventListener("change", (event) => {
    if (event.target.name && event.target.closest("[data-taps]")) send(event.target);
  });
  /* Numbers are sent once the fingers rest. The first press of a step key sets the target, the next ones move from it. */
  const later = (input) => {
    clearTimeout(input.waiting);
    input.waiting = setTimeout(() => send(input), 500);
  };
  document.addEventListener("click", (event) => {
    const key = event.target.closest("[data-step]");
    if (!key) return;
    const input = document.getElementById(key.dataset.for);
    input.value = String(input.value === "" ? Number(input.dataset.start) : parseFloat(input.value) + Number(key.dataset.step));
    later(input);
  });

  /* The number pad writes into the number that was touched; a keyboard may go on writing into it as well. */
  const pad = document.getElementById("numberpad");
  let noting = null, fresh = true;
  const show = () => {
    document.getElementById("numberpad-value").textContent = noting.value || "\u2013";
  };
  const open = (input) => {
    if (noting) noting.classList.remove("now-noting");
    noting = input;
    pad.hidden = !input;
    if (!input) return;
    fresh = true;
    input.classList.add("now-noting");
    document.getElementById("numberpad-label").textContent = input.dataset.pad;
    document.getElementById("numberpad-aim").textContent = input.dataset.aim;
    show();
    input.scrollIntoView({ block: "center" });
  };
  const write = {
    back: (value) => value.slice(0, -1),
    "-": (value) => (value.startsWith("-") ? value.slice(1) : `-${value}`),
    aim: () => noting.dataset.start,
  };
  if (pad) {
    if (matchMedia("(pointer: coarse)").matches || navigator.maxTouchPoints) {
      document.addEventListener("pointerdown", (event) => {
        if (event.target.dataset && event.target.dataset.pad && event.pointerType !== "mouse") event.target.inputMode = "none";
      });
    }
    document.addEventListener("focusin", (event) => {
      if (event.target.dataset.pad) open(event.target);
      else if (noting && !pad.contains(event.target)) open(null);
    });
    document.addEventListener("input", (event) => event.target === noting && show());
    pad.addEventListener("pointerdown", (event) => event.preventDefault()); // the number keeps the focus
    pad.addEventListener("click", (event) => {
      const key = event.target.closest("[data-digit]");
      if (!key || !noting) return;
      const digit = key.dataset.digit;
      if (digit === "done" || digit === "next") {
        const all = [...noting.closest(".gate").querySelectorAll("[data-pad]")];
        const next = digit === "next" && all[all.indexOf(noting) + 1];
        if (next) next.focus();
        else { noting.blur(); open(null); }
        return;
      }
      const value = fresh && digit !== "back" && digit !== "-" ? "" : noting.value;
      fresh = false;
      noting.value = write[digit] ? write[digit](value) : value + digit;
      show();
      later(noting);
    });
  }

  /* A tap sends its own entry only, not the whole form around it; its form's keys send the form. */
  document.addEventListener("htmx:configRequest", (event) => {
    const source = event.detail.elt, data = event.detail.formData;
    if (!source.name || !data.has("tap")) return;
    for (const name of [...data.keys()]) if (name !== source.name && name !== "tap") data.delete(name);
    data.set(source.name, source.type === "checkbox" && !source.checked ? "" : source.value);
  });

  /* A form sent whole that did not arrive is not sent again by itself: its key is pressed again. */
  const lost = (event) => event.detail.elt.name || say("Not saved: no answer from the school. What you tapped is shown here; press the key again.", true);
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:timeout", lost);
  document.addEventListener("htmx:responseError", (event) => {
    if (!stuck) say(`Not saved: the school answered ${event.detail.xhr.status}. Load the page again; earlier taps are kept.`, true);
  });
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.xhr.status === 422) say("The last entry was not saved: see the sentence above.", true);
  });

  /* A signature or a decision is sent once, and only after every tap before it. */
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.taps || form.hasAttribute("hx-post")) return;
    if (form.dataset.sent || queue.size) event.preventDefault();
    if (queue.size) held = { form, key: event.submitter };
    else form.dataset.sent = "yes";
  });
  window.addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });
})();
