import { equal, ok } from "./check.js";

export default async ({ load }) => {
  const { addLine, complain, fillIn, typed } = await load("outbox/fields.js");
  const form = (html) => {
    const made = document.createElement("form");
    made.innerHTML = html;
    document.body.append(made);
    return made;
  };
  const all = `<input name=key value=k><input name=a><textarea name=b></textarea>
    <select name=c><option>1<option>2</select>
    <input type=radio name=d value=x><input type=radio name=d value=y>
    <input type=checkbox name=e value=on checked><input type=file name=photo>
    <details><summary>more</summary><input name=f></details>`;
  const line = `<input type=hidden name=lines value=1><div data-line aria-label=x><span data-number>1</span>
    <label for=q-0>q</label><input id=q-0 name=q-0 value=3></div>`;

  return {
    "typed and filled in again are the same": () => {
      const fields = [["a", "1 ½"], ["b", "two\nlines"], ["c", "2"], ["d", "y"], ["f", "z"]];
      const made = form(all);
      fillIn(made, fields);
      equal(typed(made), fields);
      ok(made.querySelector("details").open, "what was typed is in sight");
    },
    "files too, empty ones not": () => {
      const made = form(all);
      equal(typed(made).filter(([name]) => name === "photo"), []);
      fillIn(made, [["photo", new File(["x"], "p.png")]]);
      equal(typed(made).filter(([name]) => name === "photo").map(([, file]) => file.name), ["p.png"]);
    },
    "the key is not part of what was typed": () => equal(typed(form(all)).some(([name]) => name === "key"), false),
    "a line more, and as many as were typed": () => {
      const made = form(line);
      ok(addLine(made), "added");
      equal(made.elements.namedItem("q-1").value, "");
      equal(made.querySelector("[for=q-1]").textContent, "q");
      equal([...made.querySelectorAll("[data-number]")].map((node) => node.textContent), ["1", "2"]);
      fillIn(made, [["lines", "4"], ["q-3", "9"]]);
      equal(made.elements.namedItem("q-3").value, "9");
      equal(made.elements.namedItem("lines").value, "4");
    },
    "no line where there is no list": () => equal(addLine(form(all)), false),
    "complaints name their field and replace the old ones": () => {
      const made = form(all);
      complain(made, [{ field: "a", label: "A", text: "too <b>big</b>" }, { field: "", label: "", text: "all" }], "Look");
      equal(made.querySelectorAll("[data-errors] li").length, 2);
      equal(made.querySelector("[data-errors] a").getAttribute("href"), "#a");
      equal(made.querySelector("[data-errors] li span").textContent, "too <b>big</b>");
      equal(made.elements.namedItem("a").getAttribute("aria-invalid"), "true");
      complain(made, [], "Look");
      equal(made.querySelectorAll("[data-errors], [aria-invalid]").length, 0);
    },
  };
};
