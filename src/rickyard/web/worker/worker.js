// @ts-check
/// <reference lib="webworker" />
/**
 * The service worker: keeps the shell (files with a hash in their address) and the pages used in the yard.
 * The server puts VERSION, SHELL, AWAY, KEEP and STAND_INS before this text; the list is made from the packaged files.
 *
 * A new version is fetched whole, pages included, before it may take over; then the old one's caches go.
 */

/* global VERSION, SHELL, AWAY, KEEP, STAND_INS */
/** @type {ServiceWorkerGlobalScope} */
// @ts-ignore: the library types `self` as a window's
const worker = self;

const CACHE = `rickyard-${VERSION}`;
/** With a page at hand, signal that takes longer than this counts as none. */
const PATIENCE_MS = 4_000;
const AT_ONCE = 2;
/** Pages are fetched beforehand again when the last time is longer ago. */
const FRESH_MS = 900_000;
const KEPT_AT = "/kept-at";

/** @param {Cache} cache */
async function keepPages(cache) {
  const ago = Date.now() - Number((await (await cache.match(KEPT_AT))?.text()) ?? 0);
  // A clock put back counts as long ago.
  if (ago >= 0 && ago < FRESH_MS) return;
  const answer = await fetch(KEEP, { cache: "no-store" });
  // Nobody is signed in: there is nothing to keep yet.
  if (answer.status === 401) return;
  if (!answer.ok) throw new Error(`${KEEP} answered ${answer.status}`);
  /** @type {string[]} */
  const paths = await answer.json();
  const left = [...paths];
  await Promise.all(
    Array.from({ length: AT_ONCE }, async () => {
      for (let path = left.shift(); path !== undefined; path = left.shift()) {
        const page = await fetch(path, { cache: "no-store" });
        if (page.ok && !page.redirected) await cache.put(path, page);
      }
    }),
  );
  // Pages of stacks, loads and sheets that are done with go too; shell files and the page that says "no signal" stay.
  const wanted = new Set([...paths, ...SHELL, AWAY].map((path) => new URL(path, location.href).href));
  for (const request of await cache.keys()) {
    const visited = (await cache.match(request))?.headers.get("X-Works-Offline");
    if (!wanted.has(request.url) && ["stack", "load", "cut_sheet", "splitting_sheet"].includes(visited ?? "")) await cache.delete(request);
  }
  // Whose they are, so that the same person signing in does not lose them.
  const headers = { "X-Kept-For": answer.headers.get("X-Kept-For") ?? "" };
  await cache.put(KEPT_AT, new Response(String(Date.now()), { headers }));
}

/** @type {Promise<void>} */
let keeping = Promise.resolve();
let waits = false;

/**
 * One round after the other, however fast somebody leafs through pages: side by side they would take all the lines to
 * the server from the page that is looked at.
 * @param {boolean} again however lately the pages were fetched: they are for somebody else now
 * @returns {Promise<void>}
 */
function keep(again) {
  if (waits && !again) return keeping;
  waits = true;
  const round = keeping.then(async () => {
    waits = false;
    const cache = await caches.open(CACHE);
    if (again) await cache.delete(KEPT_AT);
    await keepPages(cache);
  });
  keeping = round.catch(() => undefined);
  return round;
}

/** All kept pages go: whoever holds the phone next may not be allowed to see them. */
async function forget() {
  const cache = await caches.open(CACHE);
  // First of all what says that the pages are kept.
  await cache.delete(KEPT_AT);
  const stays = new Set([...SHELL, AWAY].map((path) => new URL(path, location.href).href));
  for (const { url } of await cache.keys()) if (!stays.has(url)) await cache.delete(url);
}

worker.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(CACHE);
      await cache.addAll([...SHELL, AWAY]);
      await keepPages(cache);
    })(),
  );
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) {
        if (name.startsWith("rickyard-") && name !== CACHE) await caches.delete(name);
      }
      await worker.clients.claim();
    })(),
  );
});

worker.addEventListener("message", (event) => {
  if (event.data === "take over") event.waitUntil(worker.skipWaiting());
  if (event.data === "forget") {
    // At once, and again behind a round that is under way: it may put back what it fetched for the one before.
    keeping = keeping.then(forget).catch(() => undefined);
    event.waitUntil(Promise.all([forget(), keeping]));
  }
  if (event.data === "keep" || event.data === "keep again") {
    // Without signal the pages stay as they were kept; the next visit tries again.
    event.waitUntil(keep(event.data === "keep again").catch(() => undefined));
  }
});

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request));
  else if (request.mode === "navigate") event.respondWith(page(event));
});

/** @param {Request} request */
async function file(request) {
  return (await caches.match(request)) ?? fetch(request);
}

/** @param {FetchEvent} event */
async function page(event) {
  const { request } = event;
  const cache = await caches.open(CACHE);
  const kept = (await cache.match(request)) ?? (await standIn(cache, new URL(request.url).pathname));
  const asked = fetch(request).then(async (answer) => {
    if (answer.ok && !answer.redirected && answer.headers.has("X-Works-Offline")) {
      await cache.put(request.url, answer.clone());
    }
    return answer;
  });
  if (!kept) return asked.catch(async () => (await cache.match(AWAY)) ?? Response.error());
  // The page may come later than we wait; then it is kept for the next time.
  event.waitUntil(asked.then(() => undefined, () => undefined));
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS)).then(() => undefined);
  const answer = await Promise.race([asked.catch(() => undefined), late]);
  return answer && answer.status < 500 ? answer : asOf(kept);
}

/** One kept page for many addresses, which its script fills by the address; files that are made (PDF) have none. @param {Cache} cache @param {string} path */
async function standIn(cache, path) {
  const begins = Object.keys(STAND_INS).find((one) => path.startsWith(one));
  return begins && !path.includes(".") ? cache.match(STAND_INS[begins]) : undefined;
}

/** The kept page, marked as such: its script says from when it is. @param {Response} kept */
async function asOf(kept) {
  const html = await kept.text();
  const marked = html.replace("<html ", `<html data-as-of="${kept.headers.get("Date") ?? ""}" `);
  return new Response(marked, { status: 200, headers: kept.headers });
}
