import { equal, ok } from "./check.js";

export default async ({ load, fresh }) => {
  const { Store } = await load("outbox/store.js");
  const { backOff, bodyOf, post, round } = await load("outbox/sender.js");

  const entry = (key, more = {}) => ({
    key, title: key, action: "/x", page: "/x", who: "", whoName: "", happenedAt: 1_000, fields: [["q", key]],
    state: "waiting", tries: 0, complaints: [], go: "", after: "", ...more,
  });
  const queue = async (...entries) => {
    const store = await Store.open(fresh());
    for (const item of entries) await store.keep(item);
    return store;
  };
  const states = async (store) => Object.fromEntries((await store.entries()).map((item) => [item.key, item.state]));
  const by = (outcomes, sent = []) => ({
    who: () => "", changed: () => {}, now: () => 2_000,
    post: async (item) => {
      sent.push(item.key);
      return outcomes[item.key] ?? { is: "done", go: `/${item.key}` };
    },
  });
  const answers = (status, body) => async () => new Response(body, { status });

  return {
    "sends in order and stops at the first that finds no way": async () => {
      const store = await queue(entry("a"), entry("b"), entry("c"));
      const sent = [];
      const wait = await round(store, by({ b: { is: "away" } }, sent));
      equal(sent, ["a", "b"]);
      equal(await states(store), { a: "done", b: "waiting", c: "waiting" });
      ok(wait >= 500 && wait <= 1_000, `wait ${wait}`);
    },
    "what needs the person does not hold up the rest": async () => {
      const complaints = [{ field: "q", label: "Q", text: "wrong" }];
      const store = await queue(entry("a"), entry("b"));
      const wait = await round(store, by({ a: { is: "needs", complaints } }));
      equal(await states(store), { a: "needs", b: "done" });
      equal((await store.entries())[0].complaints, complaints);
      equal((await store.entries())[0].fields, [["q", "a"]], "as typed");
      equal(wait, null);
    },
    "an entry that the server fails on again and again is passed by": async () => {
      const store = await queue(entry("a", { tries: 2 }), entry("b"));
      const wait = await round(store, by({ a: { is: "unwell" } }));
      equal(await states(store), { a: "waiting", b: "done" });
      equal((await store.entries())[0].tries, 3);
      ok(wait > 0, "tried again later");
    },
    "nothing goes under another's name": async () => {
      const store = await queue(entry("a", { who: "2" }), entry("b"));
      const sent = [];
      await round(store, by({}, sent));
      equal(sent, ["b"]);
      await round(store, { ...by({}, sent), who: () => "2" });
      equal(sent, ["b", "a"]);
    },
    "a photo waits for its deed": async () => {
      const store = await queue(entry("deed"), entry("photo", { after: "deed" }));
      const sent = [];
      await round(store, by({ deed: { is: "needs", complaints: [] } }, sent));
      equal(sent, ["deed"]);
      const [deed] = await store.entries();
      await store.keep({ ...deed, state: "waiting" });
      await round(store, by({}, sent));
      equal(sent, ["deed", "deed", "photo"]);
    },
    "what was being sent when the phone died is sent again": async () => {
      const store = await queue(entry("a", { state: "sending" }));
      await round(store, by({}));
      equal(await states(store), { a: "done" });
      equal((await store.entries())[0].fields, [], "photos need no room any more");
    },
    "settled entries go after a day": async () => {
      const store = await queue(entry("a", { state: "done", happenedAt: 1_000 }));
      await round(store, { ...by({}), now: () => 1_000 + 86_400_001 });
      equal(await store.entries(), []);
    },
    "thrown away while on the way is not put back": async () => {
      const store = await queue(entry("a"));
      await round(store, { ...by({}), post: async (item) => { await store.drop(item.id); return { is: "away" }; } });
      equal(await store.entries(), []);
    },
    "waits double up to a minute, and never less than half": () => {
      equal([1, 2, 3, 7, 30].map((tries) => backOff(tries, 1)), [1000, 2000, 4000, 60000, 60000]);
      equal([1, 7].map((tries) => backOff(tries, 0)), [500, 30000]);
    },
    "the body says who, when and when sent": () => {
      const body = bodyOf(entry("a", { who: "7", fields: [["q", "1"], ["q", "2"], ["key", "old"]] }), 5_000);
      equal(body.getAll("q"), ["1", "2"]);
      equal([body.get("key"), body.get("who")], ["a", "7"]);
      equal([body.get("happened_at"), body.get("sent_at")], ["1970-01-01T00:00:01.000Z", "1970-01-01T00:00:05.000Z"]);
    },
    "answers are told apart": async () => {
      const is = async (send) => (await post(entry("a"), send)).is;
      equal(await is(answers(200, '{"go": "/x"}')), "done");
      equal(await is(answers(422, '{"errors": [{"field": "q", "label": "Q", "text": "w"}]}')), "needs");
      equal(await is(answers(409, '{"error": {"message": "no"}}')), "needs");
      equal(await is(answers(500, '{"error": {"message": "no"}}')), "unwell");
      equal(await is(answers(503, '{"error": {"message": "no"}}')), "unwell");
      equal(await is(answers(429, '{"error": {"message": "no"}}')), "unwell");
      equal(await is(answers(401, '{"error": {"message": "no"}}')), "out");
      equal(await is(answers(500, "<html>")), "unwell");
      equal(await is(answers(200, "<html>log in to the hotel</html>")), "away");
      equal(await is(answers(200, '{"go": "/x')), "away", "cut in the middle");
      equal(await is(async () => { throw new TypeError("no network"); }), "away");
    },
  };
};
