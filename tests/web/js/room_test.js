import { equal, fails, ok } from "./check.js";

export default async ({ load }) => {
  const { askToLast, holdRoom, isFull, withRoom } = await load("outbox/room.js");
  const full = () => new DOMException("no room", "QuotaExceededError");

  return {
    "room is held once": async () => {
      equal(await holdRoom(), true);
      const before = (await (await caches.open("ballast")).keys()).length;
      equal(await holdRoom(), true);
      equal([before, (await (await caches.open("ballast")).keys()).length], [1, 1]);
    },
    "it makes way for what finds none": async () => {
      await holdRoom();
      let runs = 0;
      await withRoom(async () => {
        runs += 1;
        if (runs === 1) throw full();
        equal(await caches.has("ballast"), false, "ballast");
      });
      equal(runs, 2);
    },
    "no room after that is told; other troubles at once": async () => {
      let runs = 0;
      await fails(() => withRoom(async () => { runs += 1; throw full(); }), "QuotaExceededError");
      equal(runs, 2);
      await fails(() => withRoom(async () => { runs += 1; throw new TypeError("x"); }), "TypeError");
      equal(runs, 3);
    },
    "only want of room is called full": () => {
      ok(isFull(full()), "full");
      ok(!isFull(new TypeError("x")) && !isFull(new DOMException("x", "AbortError")), "others");
    },
    "asks the browser to let it last": async () => equal(typeof (await askToLast()), "boolean"),
  };
};
