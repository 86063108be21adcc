// @ts-check
/** The page's dealings with the service worker: kept pages, "as of", and new versions. */

import { filled, momentWords } from "../outbox/list.js";

/** @typedef {Record<string, string>} Words */

/** @param {string} text @param {string} [action] @param {() => void} [run] */
function notice(text, action, run) {
  const place = document.getElementById("notices");
  const words = document.createElement("span");
  words.textContent = text;
  const line = document.createElement("p");
  line.className = "warn";
  line.append(words);
  if (action && run) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", textContent: action, onclick: run });
    line.append(button);
  }
  place?.append(line);
}

/** Says from when the page is, if the phone had to show a kept one. @param {Words} words */
export function sayAsOf(words) {
  const { asOf, made } = document.documentElement.dataset;
  if (asOf === undefined) return;
  const when = momentWords(Date.parse(made ?? asOf), document.documentElement.lang);
  notice(filled(words.asOf, { when }));
  for (const figure of document.querySelectorAll(".stat, .fact, .figure, .stack-card, table")) {
    figure.setAttribute("title", filled(words.asOfShort, { when }));
  }
}

/** @param {Words} words @param {boolean} isTight */
export function sayTight(words, isTight) {
  if (isTight) notice(words.tight, words.outbox, () => location.assign("/outbox"));
}

/** What waits is sent once its person is signed in again. @param {Words} words */
export function saySignIn(words) {
  if (document.querySelector("[data-sign-in]") || location.pathname === "/sign-in") return;
  notice(words.signIn, words.signInNow, () => location.assign("/sign-in?next=/outbox"));
  document.getElementById("notices")?.setAttribute("data-sign-in", "");
}

/**
 * Some browsers (private windows, strict settings) let no page be kept. Said once a tab, and always where somebody looks
 * for what works without signal. @param {Words} words
 */
function sayNoPages(words) {
  const asked = ["/outbox", "/offline"].includes(location.pathname);
  if (!asked && sessionStorage.getItem("said-no-pages")) return;
  sessionStorage.setItem("said-no-pages", "");
  notice(words.noPages);
}

/** @returns {Promise<ServiceWorkerRegistration | undefined>} nothing where the browser's settings forbid it */
async function registered() {
  try {
    return await navigator.serviceWorker.register("/sw.js", { scope: "/" });
  } catch {
    // Forbidden, or a certificate that the browser doubts: no page is kept, and the caller says so.
    return undefined;
  }
}

/** @param {Words} words */
export async function startWorker(words) {
  const registration = await registered();
  if (!registration) {
    sayNoPages(words);
    return;
  }
  const offer = () => {
    const { waiting } = registration;
    // The first version has nothing to take the place of.
    if (waiting && navigator.serviceWorker.controller) {
      notice(words.newVersion, words.reload, () => waiting.postMessage("take over"));
    }
  };
  let reloading = false;
  const wasControlled = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (!wasControlled || reloading) return;
    reloading = true;
    location.reload();
  });
  offer();
  registration.addEventListener("updatefound", () => {
    const { installing } = registration;
    installing?.addEventListener("statechange", () => {
      if (installing.state === "installed") offer();
    });
  });
  const ready = await navigator.serviceWorker.ready;
  // The pages for the yard are kept fresh while there is signal.
  // They say who uses the phone, in which language and units: when that changes, all are fetched again.
  const { who, locale, units, locked } = document.documentElement.dataset;
  const whose = [who, locale, units].join();
  const kept = (await caches.match("/kept-at"))?.headers.get("X-Kept-For");
  const before = kept ?? localStorage.getItem("kept-for")?.split(",")[0];
  if (document.querySelector("[data-forget-pages]") || (locked !== undefined && who && who !== before)) {
    ready.active?.postMessage("forget");
  }
  ready.active?.postMessage(localStorage.getItem("kept-for") === whose ? "keep" : "keep again");
  if (navigator.onLine) localStorage.setItem("kept-for", whose);
}
