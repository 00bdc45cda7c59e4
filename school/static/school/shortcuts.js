// @ts-check
/* F2 opens the list of pages, a letter in the open list follows its link. No letter acts outside the list but on
   the board (board.js), and all can be turned off (WCAG 2.1.4). Escape closes an open menu of the head. */
(() => {
  "use strict";
  document.addEventListener("keydown", (event) => {
    const menu = event.key === "Escape" ? document.querySelector(".headbox details[open]") : null;
    if (!(menu instanceof HTMLDetailsElement)) return;
    menu.open = false;
    menu.querySelector("summary")?.focus();
  });
  document.addEventListener("click", (event) => {
    for (const menu of document.querySelectorAll(".headbox details[open]"))
      if (event.target instanceof Node && !menu.contains(event.target)) menu.removeAttribute("open");
  });

  const list = /** @type {HTMLDialogElement | null} */ (document.getElementById("shortcuts"));
  const choice = /** @type {HTMLInputElement | null} */ (document.getElementById("shortcuts-on"));
  if (!list || !choice) return;
  const OFF = "shortcuts-off";
  choice.checked = localStorage.getItem(OFF) === null;
  choice.addEventListener("change", () => {
    if (choice.checked) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "yes");
  });
  for (const opener of document.querySelectorAll(".shortcuts-key"))
    if (opener instanceof HTMLElement) {
      opener.hidden = false;
      opener.addEventListener("click", () => list.showModal());
    }

  document.addEventListener("keydown", (event) => {
    if (!choice.checked || event.ctrlKey || event.metaKey || event.altKey) return;
    if (!list.open && event.key === "F2") {
      event.preventDefault();
      list.showModal();
    } else if (list.open && /^[a-z]$/i.test(event.key)) {
      const place = list.querySelector(`a[data-letter="${event.key.toLowerCase()}"]`);
      if (!(place instanceof HTMLAnchorElement)) return;
      event.preventDefault();
      place.click();
    }
  });
})();
