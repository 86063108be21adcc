import { equal, fails } from "./check.js";

export default async ({ load, fresh }) => {
  const { Store } = await load("outbox/store.js");
  const store = await Store.open(fresh());
  return {
    "keeps in the order in which things were typed": async () => {
      const a = await store.keep({ key: "a", state: "waiting" });
      const b = await store.keep({ key: "b", state: "waiting" });
      equal((await store.entries()).map((entry) => [entry.key, entry.id]), [["a", a], ["b", b]]);
      await store.keep({ id: a, key: "a", state: "done" });
      equal((await store.entries()).map((entry) => entry.state), ["done", "waiting"]);
      await store.drop(a);
      equal((await store.entries()).length, 1);
      equal(await store.entry(a), undefined);
      await store.drop(b);
    },
    "a deed and its photos are kept together or not at all": async () => {
      const cannot = { key: "d", state: "waiting", fields: [["photo", () => 0]] };
      await fails(() => store.keepAll([{ key: "c", state: "waiting" }, cannot]), "DataCloneError");
      const entries = [{ key: "e" }, { key: "f" }];
      await store.keepAll(entries);
      equal((await store.entries()).map((entry) => entry.key), ["e", "f"]);
      equal(entries.map((entry) => typeof entry.id), ["number", "number"]);
    },
    "files survive": async () => {
      const id = await store.keep({ key: "g", fields: [["photo", new File(["abc"], "p.jpg", { type: "image/jpeg" })]] });
      const [[, file]] = (await store.entry(id)).fields;
      equal([await file.text(), file.name, file.type], ["abc", "p.jpg", "image/jpeg"]);
    },
    "drafts by page": async () => {
      await store.keepDraft({ id: "/a", at: 1, fields: [["x", "1"]] });
      await store.keepDraft({ id: "/a", at: 2, fields: [["x", "2"]] });
      equal((await store.draft("/a")).fields, [["x", "2"]]);
      await store.dropDraft("/a");
      equal(await store.draft("/a"), undefined);
    },
  };
};
