// The line-up: every drawing on one ground line at one scale. World unit: px of the base view, the
// ground at y = 0. Zooming changes the viewBox; what must keep its size on screen is scaled back.
import { boxOf, measured } from "./labels.js";
import { fitted } from "./lettering.js";
import { svg, write } from "./shapes.js";

const GAP = 0.05; // between two drawings, of the tallest one's height
const HEAD = 12; // screen px above the drawings beside the height of their names
const MOST = 24; // screen px for one drawing px

export class LineUp extends EventTarget {
  frames = new Map(); // by view: k, ox, oy and the shown rectangle in the world
  box = { x: 0, y: 0, w: 100, h: 100 };
  #area = null; // of the world, fitted until it is zoomed or moved
  #whole = true;

  constructor(root, store) {
    super();
    this.root = root;
    this.store = store;
    this.pictures = svg("g");
    this.lines = svg("g", { "aria-hidden": "true" });
    this.marks = svg("g");
    this.over = svg("g", { "aria-hidden": "true", class: "over" });
    root.append(this.lines, this.pictures, this.marks, this.over);
    this.groups = new Map();
    this.#measure();
    new ResizeObserver(() => this.#resized()).observe(root);
  }

  /** Screen px; asked for often, so measured only where it changes. */
  #measure() {
    const { width, height } = this.root.getBoundingClientRect();
    Object.assign(this, { width: width || 1, height: height || 1 });
  }

  /** World units in one screen px. */
  get unit() { return this.box.w / this.width; }

  /** Whether there is room for one drawing at a time only, as on a telephone. */
  get narrow() { return this.width < 560; }

  build() {
    for (const [number, view] of this.store.views.entries()) {
      const picture = svg("image", {
        href: `drawing/${number}`, x: -0.5, y: -0.5, width: view.width, height: view.height,
        preserveAspectRatio: "none",
      });
      const window = svg("svg", { class: "picture", preserveAspectRatio: "none", "aria-hidden": "true" }, picture);
      const name = svg("text", { class: "name", "aria-hidden": "true" });
      name.textContent = view.title;
      const edge = svg("rect", { class: "edge" });
      const group = svg("g", {
        class: "drawing", tabindex: "0", role: "application", "aria-roledescription": "drawing",
        "data-view": view.name,
      }, edge, window, name);
      this.pictures.append(group);
      this.groups.set(view.name, { group, window, name, edge, title: view.title, size: measured(name) });
    }
    this.place();
    this.whole();
  }

  /** Lay the drawings out from what is known of their scales. */
  place() {
    const scales = this.store.readings.scales;
    const heights = this.store.views.map((v) => (v.crop[3] - v.crop[1]) / (scales[v.name]?.scale ?? 1));
    const gap = GAP * Math.max(...heights);
    let right = 0;
    for (const view of this.store.views) {
      const [left, top, r, bottom] = view.crop;
      const k = 1 / (scales[view.name]?.scale ?? 1);
      const oy = -k * (scales[view.name]?.ground ?? view.foot);
      const ox = right - k * left;
      const frame = { k, ox, oy, x: right, y: oy + k * top, w: k * (r - left), h: k * (bottom - top) };
      this.frames.set(view.name, frame);
      const { window, edge } = this.groups.get(view.name);
      for (const part of [window, edge]) write(part, { x: frame.x, y: frame.y, width: frame.w, height: frame.h });
      write(window, { viewBox: `${left} ${top} ${r - left} ${bottom - top}` });
      right += frame.w + gap;
    }
    const all = [...this.frames.values()];
    const high = Math.min(...all.map((f) => f.y));
    const low = Math.max(...all.map((f) => f.y + f.h));
    this.bounds = { x: 0, y: high, w: right - gap, h: low - high };
    if (this.#whole) this.whole();
    else this.#show();
  }

  toWorld(view, x, y) {
    const frame = this.frames.get(view);
    return [frame.ox + frame.k * x, frame.oy + frame.k * y];
  }

  toDrawing(view, wx, wy) {
    const frame = this.frames.get(view);
    return [(wx - frame.ox) / frame.k, (wy - frame.oy) / frame.k];
  }

  fromScreen(clientX, clientY) {
    const at = this.root.getBoundingClientRect();
    return [this.box.x + (clientX - at.left) * this.unit, this.box.y + (clientY - at.top) * this.unit];
  }

  toScreen(wx, wy) {
    const at = this.root.getBoundingClientRect();
    return [at.left + (wx - this.box.x) / this.unit, at.top + (wy - this.box.y) / this.unit];
  }

  /** A drawing's rectangle, screen px from the lineup's corner. */
  onScreen(view) {
    const f = this.frames.get(view);
    const [left, top] = [(f.x - this.box.x) / this.unit, (f.y - this.box.y) / this.unit];
    return [left, top, left + f.w / this.unit, top + f.h / this.unit];
  }

  /** Whether anything of a drawing is in sight. */
  sees(view) {
    const [left, top, right, bottom] = this.onScreen(view);
    return right > 0 && bottom > 0 && left < this.width && top < this.height;
  }

  viewAt(wx, wy) {
    for (const [name, f] of this.frames) {
      if (wx >= f.x && wx <= f.x + f.w && wy >= f.y && wy <= f.y + f.h) return name;
    }
    return null;
  }

  /** Screen px above the drawings. */
  get #head() { return HEAD + Math.max(...[...this.groups.values()].map(({ size }) => size.rise + size.fall)); }

  whole() {
    this.#fit(this.bounds);
    this.#whole = true;
  }

  /** Show one drawing, or a part of it ([left, top, right, bottom], px), as large as it fits. */
  closeUp(view, area = null) {
    const f = this.frames.get(view);
    const [left, top, right, bottom] = area ?? this.store.viewOf.get(view).crop;
    const [x, y] = this.toWorld(view, left, top);
    this.#fit({ x, y, w: f.k * (right - left), h: f.k * (bottom - top) });
    this.#whole = false;
  }

  /** Screen px for one px of a drawing. */
  scale(view) { return this.frames.get(view).k / this.unit; }

  /** Make a spot of the world visible, without changing the zoom. */
  reveal(wx, wy) {
    const edge = 0.08;
    const { box } = this;
    const dx = Math.max(box.x + edge * box.w - wx, 0) - Math.max(wx - box.x - (1 - edge) * box.w, 0);
    const dy = Math.max(box.y + edge * box.h - wy, 0) - Math.max(wy - box.y - (1 - edge) * box.h, 0);
    if (dx || dy) this.pan(-dx / this.unit, -dy / this.unit, true);
  }

  /** Bring a spot of the world back into sight if it has left it. */
  bringBack(wx, wy) { if (!this.inSight(wx, wy)) this.reveal(wx, wy); }

  inSight(wx, wy) {
    const { x, y, w, h } = this.box;
    return wx >= x && wy >= y && wx <= x + w && wy <= y + h;
  }

  zoom(factor, clientX, clientY) {
    const at = this.root.getBoundingClientRect();
    const px = clientX ?? at.left + at.width / 2;
    const py = clientY ?? at.top + at.height / 2;
    const [wx, wy] = this.fromScreen(px, py);
    const most = this.bounds.w * 3;
    const w = Math.min(Math.max(this.box.w / factor, this.width / MOST), most);
    const by = w / this.box.w;
    this.box = { x: wx - (wx - this.box.x) * by, y: wy - (wy - this.box.y) * by, w, h: this.box.h * by };
    this.#area = null;
    this.#whole = false;
    this.#show();
  }

  pan(dx, dy, camera = false) {
    const way = camera ? 1 : -1;
    this.box.x += way * dx * this.unit;
    this.box.y += way * dy * this.unit;
    this.#area = null;
    this.#whole = false;
    this.#show();
  }

  #fit(area) {
    this.#area = area;
    const head = this.#head;
    const free = Math.max(this.height - head - 14, 40);
    const unit = Math.max(area.w / Math.max(this.width - 24, 40), area.h / free);
    const w = unit * this.width;
    const h = unit * this.height;
    const spare = (free * unit - area.h) / 2;
    this.box = { x: area.x - (w - area.w) / 2, y: area.y - head * unit - spare, w, h };
    this.#show();
  }

  #resized() {
    this.#measure();
    if (!this.bounds) return;
    if (this.#whole) this.whole();
    else if (this.#area) this.#fit(this.#area);
    else {
      const middle = this.box.y + this.box.h / 2;
      this.box.h = this.unit * this.height;
      this.box.y = middle - this.box.h / 2;
      this.#show();
    }
  }

  #show() {
    const { x, y, w, h } = this.box;
    const before = this.root.getAttribute("viewBox");
    write(this.root, { viewBox: `${x} ${y} ${w} ${h}` });
    for (const [name, group] of this.groups) this.#putName(group, this.frames.get(name));
    if (this.root.getAttribute("viewBox") !== before) this.dispatchEvent(new Event("shown"));
  }

  /** Write a drawing's name above what is seen of it, as long as there is room. */
  #putName(group, frame) {
    const { box, unit } = this;
    const left = Math.max(frame.x, box.x);
    const right = Math.min(frame.x + frame.w, box.x + box.w);
    const free = Math.max((right - left) / unit, 0);
    const { wide, rise, fall } = group.size;
    const [text, times] = fitted(group.title, wide, free);
    if (group.name.textContent !== text) group.name.textContent = text;
    const x = (left + right) / 2;
    const y = Math.max(frame.y - (fall + 4) * unit, box.y + (rise + 3) * unit);
    write(group.name, { transform: `translate(${x} ${y}) scale(${unit * times})` });
    const half = Math.min(wide * times, free) / 2;
    group.box = boxOf((x - box.x) / unit - half, (y - box.y) / unit, { wide: 2 * half, rise, fall });
  }
}
