// @ts-check
/* Two keys, one after the other, lead to a page; one list of them. They can be turned off, as WCAG 2.1.4 asks. */
(() => {
  "use strict";
  const list = /** @type {HTMLDialogElement | null} */ (document.getElementById("shortcuts"));
  const opener = document.getElementById("shortcuts-key");
  const choice = /** @type {HTMLInputElement | null} */ (document.getElementById("shortcuts-on"));
  if (!list || !opener || !choice) return;
  const OFF = "shortcuts-off";
  let leading = -Infinity; // when the first of two keys was pressed

  choice.checked = localStorage.getItem(OFF) === null;
  choice.addEventListener("change", () => {
    if (choice.checked) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "yes");
  });
  opener.hidden = false;
  opener.addEventListener("click", () => list.showModal());

  /** @param {EventTarget | null} place */
  const isTyping = (place) =>
    place instanceof HTMLElement &&
    !list.contains(place) && // it was just closed: the focus still goes back from it
    (place.isContentEditable || ["INPUT", "SELECT", "TEXTAREA"].includes(place.tagName));

  document.addEventListener("keydown", (event) => {
    if (!choice.checked || list.open || isTyping(event.target) || event.ctrlKey || event.metaKey || event.altKey)
      return;
    if (event.key === "?") {
      event.preventDefault();
      list.showModal();
    } else if (event.key === "g") {
      leading = event.timeStamp;
    } else {
      const place =
        event.timeStamp - leading < 4000 &&
        /^[a-z]$/.test(event.key) &&
        document.querySelector(`a[data-go="${event.key}"]`);
      leading = -Infinity;
      if (place instanceof HTMLAnchorElement) {
        event.preventDefault();
        place.click();
      }
    }
  });
})();
