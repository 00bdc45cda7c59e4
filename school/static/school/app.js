// @ts-check
/* Keeps each tap as it is made, sends it, and says whether it is saved. Without this file every form works whole. */
import * as forms from "./forms.js";
import * as keep from "./keep.js";
import * as notes from "./notes.js";
import * as sender from "./sender.js";
import * as store from "./store.js";
import * as tablet from "./tablet.js";

/** The screen stays lit while a lesson is recorded; the system lets go of it whenever the page is not seen. */
function stayLit() {
  const ask = () => {
    if (document.visibilityState === "visible")
      // With a low battery it is refused, and that is right.
      /** @type {any} */ (navigator).wakeLock?.request("screen").catch(() => {});
  };
  ask();
  document.addEventListener("visibilitychange", ask);
}

/**
 * Said before tapping goes on: a tablet that keeps nothing loses what it cannot send.
 * @returns {Promise<void>}
 */
const warned = (/** @type {Error} */ error) =>
  new Promise((resolve) => {
    const main = document.querySelector("main[data-lesson]");
    if (!main) return resolve();
    main.setAttribute("inert", "");
    notes.alarm(
      `This tablet cannot save anything: its storage is full or blocked (${error.message}).` +
        " Free some storage and reload the page. If you continue, an entry is lost when there is no network.",
      notes.button("Continue, with network only", () => {
        main.removeAttribute("inert");
        document.getElementById("alarm")?.remove();
        resolve();
      }),
    );
  });

/**
 * The script of the page itself, named by the page: the frame does not know the pages that it frames.
 * @typedef {(form: HTMLFormElement, key: HTMLElement|null) => boolean} MustWait
 * @typedef {{start: () => Promise<MustWait|null>, showConnection: (away: boolean) => void}} PageScript
 * @returns {Promise<PageScript|null>}
 */
async function pageScript() {
  const address = document.documentElement.dataset.pageScript;
  return address ? import(address) : null;
}

const LOOK = 5000;
/** A storage that is cleared under an open page is filled again from what the page still knows, and that is said. */
function lookAfterStorage() {
  setInterval(async () => {
    if (document.visibilityState !== "visible" || store.isInMemory()) return;
    const lost = [await sender.checkStorage(), await keep.restock().catch(() => false)];
    if (!lost.includes(true)) return;
    sender.trouble.cleared = true;
    sender.sendNow();
  }, LOOK);
}

/**
 * Asked once the page stands, and never waited for: a browser may ask its person, who may leave that open for ever.
 * Until somebody says yes nothing is promised, nor by a browser that cannot be asked.
 */
async function askToKeep() {
  const storage = navigator.storage;
  sender.trouble.evictable = !(await storage?.persisted?.());
  if (!sender.trouble.evictable || !storage?.persist) return;
  sender.trouble.evictable = !(await storage.persist());
  sender.notify();
}

/** What the last contact means for what this device keeps: it counts anew, or the session was ended. */
let checkedAt = -Infinity;
function followContact() {
  if (!["ok", "out"].includes(sender.contact.state) || performance.now() - checkedAt < LOOK) return;
  checkedAt = performance.now();
  const follow = sender.contact.state === "ok" ? keep.renewContact() : keep.emptyIfEnded();
  follow.catch(reportError);
}

async function begin() {
  let fresh = false;
  try {
    fresh = await store.tryStorage();
  } catch (error) {
    store.useMemory();
    await warned(/** @type {Error} */ (error));
  }
  await keep.tryCaches();
  const shell = document.documentElement.dataset.shell !== undefined;
  if (shell) await keep.emptyIfExpired();
  await keep.rememberPerson();
  if (shell) sender.setPerson(await keep.lastPerson());
  await keep.openSealed().catch(reportError); // without network they stay sealed
  if (fresh) notes.tellLost();
  notes.start();
  notes.guardLogout(keep.canEmpty, keep.empty);
  sender.start();
  const page = await pageScript();
  const mustWait = page ? await page.start() : null;
  forms.start(mustWait ?? (() => false));
  if (page) sender.watch(() => page.showConnection(sender.isAway()));
  sender.watch(keep.refreshSoon);
  sender.watch(followContact);
  sender.notify();
  await tablet.start();
  await tablet.showReadyFirst();
  if (mustWait) stayLit();
  document.documentElement.dataset.ready = "yes";
  lookAfterStorage();
  if (!sender.person && !shell) await keep.emptyIfNobody();
  else if (sender.person && shell) void sender.checkSession();
  sender.sendNow();
  if (document.documentElement.dataset.kept) void askToKeep().catch(reportError);
  if ("serviceWorker" in navigator && document.documentElement.dataset.kept) {
    await navigator.serviceWorker.register(document.documentElement.dataset.worker ?? "");
    await navigator.serviceWorker.ready;
    // A lesson under way does not wait for it.
    if (!mustWait) await keep.preload(document.getElementById("writing") !== null);
    document.documentElement.dataset.stocked = "yes";
  }
}

begin().catch((error) => {
  notes.alarm(
    "This page did not load completely and may not save entries. Reload it; entries shown as saved are safe.",
  );
  reportError(error);
});
