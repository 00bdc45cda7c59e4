// @ts-check
/* Pieces of the lesson page are put in anew: what is open stays open, and the keyboard where it was. */

/** Where an element stands: itself by its id, or as which of its kind within the nearest element that has one. */
function placeOf(/** @type {Element} */ element) {
  const home = element.closest("[id]");
  if (!home) return null;
  const index = home === element ? -1 : [...home.querySelectorAll(element.tagName)].indexOf(element);
  return { id: home.id, tag: element.tagName, index };
}

/** @param {{id: string, tag: string, index: number}} place */
function at({ id, tag, index }) {
  const home = document.getElementById(id);
  return index < 0 ? home : (home?.querySelectorAll(tag)[index] ?? null);
}

/** What is open and where the person types or stands with the keyboard, to be put back after a swap. */
export function rememberFocus() {
  const open = [...document.querySelectorAll("#work details[open]")].map(placeOf);
  const old = /** @type {HTMLInputElement|null} */ (document.activeElement),
    place = old && placeOf(old);
  const [value, start] = [old?.value, old && "selectionStart" in old ? old.selectionStart : null];
  return () => {
    for (const more of open) {
      const found = more && at(more);
      if (found) /** @type {HTMLDetailsElement} */ (found).open = true;
    }
    if (!place || old?.isConnected) return;
    const now = /** @type {HTMLInputElement|null} */ (at(place));
    if (!now) return;
    if (value !== undefined && /^(text|textarea)$/.test(now.type)) now.value = value;
    now.focus({ preventScroll: true });
    if (start !== null && "setSelectionRange" in now && /^(text|textarea)$/.test(now.type))
      now.setSelectionRange(start, start);
  };
}
