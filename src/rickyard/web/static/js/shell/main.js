// @ts-check
/** Starts what lets the yard's pages work without signal. Where the browser forbids it, pages work as plain forms. */

import { Forms } from "../outbox/forms.js";
import { List } from "../outbox/list.js";
import { holdRoom } from "../outbox/room.js";
import { Sender } from "../outbox/sender.js";
import { Store } from "../outbox/store.js";
import { cookie, hearName } from "../outbox/who.js";
import { sayAsOf, saySignIn, sayTight, startWorker } from "./shell.js";
import { sayUnheard } from "./unheard.js";

/** @type {Record<string, string>} */
const words = JSON.parse(document.getElementById("outbox-words")?.dataset.words ?? "{}");

async function start() {
  hearName();
  sayAsOf(words);
  const store = await Store.open();
  const others = new BroadcastChannel("rickyard-outbox");
  const who = () => cookie("who");
  /** @type {List} */
  let list;
  const changed = () => {
    list.show();
    others.postMessage("changed");
  };
  const sender = new Sender(store, { who, changed, out: () => saySignIn(words) });
  list = new List(store, words, { who, changed, send: () => sender.send() });
  others.addEventListener("message", () => list.show());
  await list.show();
  await new Forms(store, sender, words).start();
  addEventListener("online", () => sender.send());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") sender.send();
  });
  document.documentElement.dataset.outboxReady = "";
  sender.send();
  sayTight(words, !(await holdRoom()));
  await startWorker(words);
}

sayUnheard(words);
// Only a secure page (localhost or HTTPS) may keep deeds and pages; the server tells how to become one.
if (isSecureContext && "serviceWorker" in navigator && "locks" in navigator) await start();
