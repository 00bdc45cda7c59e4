// @ts-check
/* Read before the page is drawn: what is tapped until the modules have come is kept for them (taps.js). */
(() => {
  document.documentElement.dataset.scripted = ""; // the pad has fixed places where a script opens its details
  /** @type {Event[]} */
  const heard = [];
  const hear = (/** @type {Event} */ event) => heard.push(event);
  document.addEventListener("change", hear);
  /** @type {any} */ (window).earlyTaps = () => {
    document.removeEventListener("change", hear);
    return heard;
  };
})();
