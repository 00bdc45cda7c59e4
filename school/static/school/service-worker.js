// @ts-check
/* Answers for the school when there is no network: with the frame of the application and the pages kept here.
   The school writes SHELL in front: the version of the frame, its files, and the page to start from. */
const worker = /** @type {any} */ (self);
const FRAME = `frame-${SHELL.version}`,
  PATIENCE = 5000;

/** The name of a file without the hash of its content: a kept page may ask for the file of an earlier day. */
const plain = (/** @type {string} */ path) => path.replace(/\.[0-9a-f]{12}(?=\.\w+$)/, "");
const files = new Map(SHELL.files.map((file) => [plain(new URL(file, worker.location).pathname), file]));

async function stock() {
  const frame = await caches.open(FRAME);
  await frame.addAll(SHELL.files);
  await frame.put(SHELL.start, await fetch(new Request(SHELL.start, { credentials: "omit", cache: "no-store" })));
}

worker.addEventListener("install", (/** @type {any} */ event) => {
  event.waitUntil(stock().then(() => worker.skipWaiting()));
});

// A page has seen that the caches were cleared: without the frame nothing would open offline.
worker.addEventListener("message", (/** @type {any} */ event) => {
  if (event.data === "restock") event.waitUntil(stock());
});

worker.addEventListener("activate", (/** @type {any} */ event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys())
        if (name.startsWith("frame-") && name !== FRAME) await caches.delete(name);
      await worker.clients.claim();
    })(),
  );
});

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  if (url.origin !== worker.location.origin) return;
  if (event.request.mode === "navigate") event.respondWith(page(event.request, url, event));
  else if (event.request.method === "GET" && files.has(plain(url.pathname)))
    event.respondWith(file(event.request, url));
});

async function file(/** @type {Request} */ request, /** @type {URL} */ url) {
  const frame = await caches.open(FRAME);
  const exact = await frame.match(url.pathname);
  if (exact) return exact;
  try {
    const answer = await fetch(request);
    if (answer.ok) return answer;
  } catch {
    /* no network: the file of today does for the page of yesterday */
  }
  return (await frame.match(files.get(plain(url.pathname)) ?? "")) ?? Response.error();
}

/** Whose pages open here, as long as the school lets them after the last contact (keep.js). */
async function lastPerson() {
  const row = await (await caches.open("tablet")).match("/tablet/person");
  const hours = Number(row?.headers.get("Keep-Hours") ?? 0),
    passed = Date.now() - Number(row?.headers.get("Contact-At") ?? 0);
  if (hours && !(passed > -300000 && passed < hours * 3600000)) return "";
  return (await row?.text()) || "";
}

/** The school first; a kept page when it does not answer in time or cannot. */
async function page(/** @type {Request} */ request, /** @type {URL} */ url, /** @type {any} */ event) {
  const person = await lastPerson();
  const pages = person && request.method === "GET" ? await caches.open(`kept-${person}`) : null;
  const kept = await pages?.match(url.pathname);
  try {
    const answer = await (kept ? Promise.race([fetch(request), late()]) : fetch(request));
    if (kept && (answer.status === 404 || answer.status >= 502)) return markOffline(kept);
    if (pages && answer.ok && answer.headers.get("Kept-For") === person && !url.search)
      event.waitUntil(pages.put(url.pathname, answer.clone()));
    return answer;
  } catch {
    if (kept) return markOffline(kept);
    return (await (await caches.open(FRAME)).match(SHELL.start)) ?? Response.error();
  }
}

/** @returns {Promise<Response>} */
const late = () => new Promise((_, reject) => setTimeout(() => reject(new Error("late")), PATIENCE));

/** A kept page says that it is one. */
async function markOffline(/** @type {Response} */ kept) {
  const text = (await kept.text()).replace(/<html\s/, "<html data-from-tablet ");
  return new Response(text, { headers: { "Content-Type": "text/html; charset=utf-8" } });
}
