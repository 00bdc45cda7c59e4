// @ts-check
/* Read before the page is drawn: what is tapped until the modules have come is kept for them (taps.js). */
(() => {
  document.documentElement.dataset.scripted = ""; // the pad has fixed places where a script opens its details
  // The browser finds the target of the address only once the modules have run: until then this shows the pad.
  const turn = () => document.documentElement.toggleAttribute("data-pad", location.hash === "#circuits");
  turn();
  window.addEventListener("hashchange", turn);
  /** @type {Event[]} */
  const heard = [];
  const hear = (/** @type {Event} */ event) => heard.push(event);
  document.addEventListener("change", hear);
  /** @type {any} */ (window).earlyTaps = () => {
    document.removeEventListener("change", hear);
    return heard;
  };
})();
