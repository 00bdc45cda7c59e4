// @ts-check
/* On the board of students: J or the arrow down and K or the arrow up go from name to name, Enter follows the link as
   everywhere, / goes to the search. The arrows act only while a name has the focus: elsewhere they scroll the page.
   The list of shortcuts turns all of them off (WCAG 2.1.4). */
(() => {
  "use strict";
  const STEPS = { j: 1, k: -1, ArrowDown: 1, ArrowUp: -1 };

  const goToSearch = () => {
    const field = document.getElementById("q");
    if (!field) return false;
    field.closest("details")?.setAttribute("open", ""); // folded on a phone
    field.focus();
    return true;
  };

  /** @param {string} key */
  const goToName = (key) => {
    const step = STEPS[/** @type {keyof typeof STEPS} */ (key)];
    const names = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".bt a.who")]);
    const place = names.findIndex((name) => name === document.activeElement);
    if (step === undefined || (place < 0 && key.startsWith("Arrow"))) return false;
    names[place < 0 ? 0 : Math.min(Math.max(place + step, 0), names.length - 1)]?.focus();
    return true;
  };

  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (localStorage.getItem("shortcuts-off") !== null || document.querySelector("dialog[open]")) return;
    if (event.target instanceof Element && event.target.closest("input, select, textarea, summary")) return;
    if (event.key === "/" ? goToSearch() : !event.shiftKey && goToName(event.key)) event.preventDefault();
  });
})();
