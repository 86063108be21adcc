// @ts-check
/**
 * Marks on a photo: four corners of a board, then the outline of a stack. A tap sets a point, a point can be dragged
 * or moved with the arrow keys. The marks stand in two fields of the form, in pixels of the photo; the server reckons.
 */

/** @typedef {"corners" | "outline"} Mode */
/** @typedef {{ x: number, y: number, dot: number }} Mark  where it is, and the photo pixels a screen dot held then */

const SPACE = "http://www.w3.org/2000/svg";
const LARGEST = 8;
/** Radii in screen dots: what is seen, and what a thumb finds. */
const SEEN = 7, FOUND = 22;

/** @template {Element} T @param {string} query @param {new () => T} kind @param {ParentNode} within @returns {T} */
function only(query, kind, within = document) {
  const found = within.querySelector(query);
  if (!(found instanceof kind)) throw new Error(query);
  return found;
}

const svg = only("#marking", SVGSVGElement);
const dots = only("[data-dots]", SVGGElement, svg);
const tools = only("[data-tools]", HTMLElement);
const line = only("[data-said]", HTMLElement);
const coarsest = only("#px_per_dot", HTMLInputElement);
const shapes = { corners: only(".mark-board", SVGPolygonElement, svg), outline: only(".mark-outline", SVGPolygonElement, svg) };
const fields = { corners: only("#corners", HTMLInputElement), outline: only("#outline", HTMLInputElement) };
/** @type {Record<string, string>} */
const words = JSON.parse(svg.dataset.words ?? "{}");
const { width, height } = svg.viewBox.baseVal;
/** @type {Record<Mode, Mark[]>} */
const marks = { corners: [], outline: [] };
let zoom = 1;

/** @returns {Mode} */
const mode = () => (only("input[name=marking]:checked", HTMLInputElement).value === "outline" ? "outline" : "corners");

/** Photo pixels in one dot of the screen. */
const scale = () => width / (svg.getBoundingClientRect().width || width);

/** @param {string} word @param {number} number */
const say = (word, number) => (words[word] ?? "").replace("{number}", String(number));

/** @param {{ clientX: number, clientY: number }} event @returns {Mark} */
function where(event) {
  const box = svg.getBoundingClientRect();
  return held({ x: (event.clientX - box.left) * scale(), y: (event.clientY - box.top) * scale(), dot: scale() });
}

/** @param {Mark} mark @returns {Mark} within the photo */
function held(mark) {
  return { ...mark, x: Math.min(width, Math.max(0, mark.x)), y: Math.min(height, Math.max(0, mark.y)) };
}

/** @param {Mode} name */
const written = (name) => marks[name].map(({ x, y }) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");

function show() {
  const dot = scale();
  for (const name of /** @type {Mode[]} */ (["corners", "outline"])) {
    fields[name].value = written(name);
    shapes[name].setAttribute("points", written(name));
    shapes[name].style.strokeWidth = String(2 * dot);
  }
  const all = [...marks.corners, ...marks.outline];
  coarsest.value = all.length ? Math.max(...all.map((mark) => mark.dot)).toFixed(3) : "";
  dots.replaceChildren(...marks.corners.map((mark, i) => handle("corners", mark, i, dot)), ...marks.outline.map((mark, i) => handle("outline", mark, i, dot)));
  const full = mode() === "corners" && marks.corners.length === 4;
  line.textContent = full ? say("full", 4) : mode() === "corners" ? say("corners", marks.corners.length + 1) : say("outline", marks.outline.length);
}

/** @param {Mode} name @param {Mark} mark @param {number} index @param {number} dot */
function handle(name, mark, index, dot) {
  const group = document.createElementNS(SPACE, "g");
  group.setAttribute("class", `mark-dot is-${name}`);
  group.setAttribute("tabindex", "0");
  group.setAttribute("role", "button");
  group.setAttribute("aria-label", say(name === "corners" ? "corner" : "point", index + 1));
  group.dataset.mark = `${name} ${index}`;
  for (const [radius, look] of /** @type {[number, string][]} */ ([[FOUND, "is-found"], [SEEN, "is-seen"]])) {
    const circle = document.createElementNS(SPACE, "circle");
    circle.setAttribute("class", look);
    circle.setAttribute("cx", String(mark.x));
    circle.setAttribute("cy", String(mark.y));
    circle.setAttribute("r", String(radius * dot));
    circle.style.strokeWidth = String(2 * dot);
    group.append(circle);
  }
  return group;
}

/** @param {EventTarget | null} target @returns {[Mode, number] | null} the mark that was touched */
function touched(target) {
  const group = target instanceof Element ? target.closest("[data-mark]") : null;
  const [name, index] = (group instanceof SVGElement ? group.dataset.mark ?? "" : "").split(" ");
  return name === "corners" || name === "outline" ? [name, Number(index)] : null;
}

/** @type {{ at: [Mode, number], moved: boolean } | null} */
let dragged = null;
let justDragged = false;

svg.addEventListener("pointerdown", (event) => {
  justDragged = false;
  const at = touched(event.target);
  if (!at) return;
  event.preventDefault();
  dragged = { at, moved: false };
  svg.setPointerCapture(event.pointerId);
});

svg.addEventListener("pointermove", (event) => {
  if (!dragged) return;
  dragged.moved = true;
  marks[dragged.at[0]][dragged.at[1]] = where(event);
  show();
});

for (const name of /** @type {const} */ (["pointerup", "pointercancel"])) {
  svg.addEventListener(name, () => {
    justDragged = dragged !== null;
    dragged = null;
  });
}

svg.addEventListener("click", (event) => {
  if (justDragged || touched(event.target)) return;
  if (mode() === "corners" && marks.corners.length === 4) return show();
  marks[mode()].push(where(event));
  if (mode() === "corners" && marks.corners.length === 4) only("input[name=marking][value=outline]", HTMLInputElement).checked = true;
  show();
});

svg.addEventListener("keydown", (event) => {
  const at = touched(event.target);
  const step = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] })[event.key];
  if (!at || (!step && event.key !== "Delete")) return;
  event.preventDefault();
  const [name, index] = at;
  if (step) {
    const { x, y } = marks[name][index];
    marks[name][index] = held({ x: x + step[0] * scale(), y: y + step[1] * scale(), dot: scale() });
  } else marks[name].splice(index, 1);
  show();
  const again = dots.querySelector(`[data-mark="${name} ${Math.min(index, marks[name].length - 1)}"]`);
  if (again instanceof SVGElement) again.focus();
});

tools.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-do]") : null;
  if (!(button instanceof HTMLElement)) return;
  if (button.dataset.do === "undo") {
    const last = marks.outline.length ? "outline" : "corners";
    marks[last].pop();
    only(`input[name=marking][value=${last}]`, HTMLInputElement).checked = true;
  } else {
    zoom = Math.min(LARGEST, Math.max(1, zoom * (button.dataset.do === "larger" ? 2 : 0.5)));
    const view = /** @type {HTMLElement} */ (svg.parentElement);
    const middle = { x: (view.scrollLeft + view.clientWidth / 2) / svg.clientWidth, y: (view.scrollTop + view.clientHeight / 2) / svg.clientHeight };
    svg.style.width = `${100 * zoom}%`;
    view.scrollLeft = middle.x * svg.clientWidth - view.clientWidth / 2;
    view.scrollTop = middle.y * svg.clientHeight - view.clientHeight / 2;
  }
  show();
});

tools.addEventListener("change", show);

/** What stands in a field, when the page is opened again or numbers are typed. @param {Mode} name */
function read(name) {
  const dot = Number(coarsest.value) || scale();
  const found = fields[name].value.trim().split(/[\s;]+/).filter(Boolean).map((pair) => pair.split(",").map(Number));
  if (found.every((pair) => pair.length === 2 && pair.every(Number.isFinite))) marks[name] = found.map(([x, y]) => ({ x, y, dot }));
}

for (const name of /** @type {Mode[]} */ (["corners", "outline"])) {
  read(name);
  fields[name].addEventListener("change", () => {
    read(name);
    show();
  });
}
if (marks.corners.length === 4) only("input[name=marking][value=outline]", HTMLInputElement).checked = true;
tools.hidden = false;
show();

export {};
