// @ts-check
/* Pieces of the lesson page are put in anew: what is open stays open, and the keyboard where it was. */
const STOPS = "a, button, input, select, textarea, summary";

/** What is open and where the person types or stands with the keyboard, to be put back after a swap. */
export function remember() {
  const key = (/** @type {Element} */ more) => {
    const home = more.closest("[id]");
    return `${home?.id} ${[...(home?.querySelectorAll("details") ?? [])].indexOf(/** @type {any} */ (more))}`;
  };
  const open = new Set([...document.querySelectorAll("#work details[open]")].map(key));
  const at = /** @type {HTMLInputElement|null} */ (document.activeElement), home = at?.closest("[id]");
  const place = at && home && at !== home ? [...home.querySelectorAll(STOPS)].indexOf(at) : -1;
  const [value, start] = [at?.value, at && "selectionStart" in at ? at.selectionStart : null];
  return () => {
    for (const more of document.querySelectorAll("#work details")) if (open.has(key(more))) /** @type {HTMLDetailsElement} */ (more).open = true;
    if (at?.isConnected || !home?.id) return;
    const found = document.getElementById(home.id);
    const now = /** @type {HTMLInputElement|null} */ (at === home ? found : [...(found?.querySelectorAll(STOPS) ?? [])][place] ?? null);
    if (!now) return;
    if (value !== undefined && /^(text|textarea)$/.test(now.type)) now.value = value;
    now.focus({ preventScroll: true });
    if (start !== null && "setSelectionRange" in now && /^(text|textarea)$/.test(now.type)) now.setSelectionRange(start, start);
  };
}
