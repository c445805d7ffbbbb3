// The lens: a round window on the picture's own pixels, with the ruled height in it. It stands in
// a corner of the stage, and leaves it when the pointer comes near, so that it covers no work.
import { svg, write } from "./shapes.js";

const SIZE = 148; // screen px; page.css has the same
const TIMES = 4; // screen px for one px of the drawing
const WORTH = 1.5; // times that it magnifies what is seen beside it, or it is not shown
const AWAY = 12;
const NEAR = 40;

export class Magnifier {
  on = true;
  #right = true;

  constructor(root, store, lineup) {
    this.root = root;
    this.store = store;
    this.lineup = lineup;
    this.picture = svg("image", { preserveAspectRatio: "none", x: -0.5, y: -0.5 });
    this.band = svg("rect", { class: "band" });
    this.rule = svg("path", { class: "rule" });
    const cross = svg("path", {
      class: "cross", d: `M${SIZE / 2} 14V${SIZE / 2 - 6}M${SIZE / 2} ${SIZE / 2 + 6}V${SIZE - 14}`
        + `M14 ${SIZE / 2}H${SIZE / 2 - 6}M${SIZE / 2 + 6} ${SIZE / 2}H${SIZE - 14}`,
    });
    this.inner = svg("svg", { width: SIZE, height: SIZE }, this.picture, this.band, this.rule);
    root.append(svg("svg", { viewBox: `0 0 ${SIZE} ${SIZE}`, width: SIZE, height: SIZE }, this.inner, cross));
  }

  /** Screen px for one px of a drawing, as closely as a spot of it is seen: in the lens, if that shows. */
  scale(view) {
    const beside = this.lineup.scale(view);
    return this.on && TIMES >= WORTH * beside ? TIMES : beside;
  }

  /** Show the spot (x, y) of a drawing that is at a place on the screen. */
  show(view, x, y, clientX, clientY, landmark) {
    const scale = this.scale(view);
    if (scale === this.lineup.scale(view)) return this.hide();
    const seen = this.store.viewOf.get(view);
    const span = SIZE / scale;
    this.inner.setAttribute("viewBox", `${x - span / 2} ${y - span / 2} ${span} ${span}`);
    write(this.picture, { href: `drawing/${this.store.views.indexOf(seen)}`, width: seen.width, height: seen.height });
    const ruler = this.store.readings.scales[view];
    const line = this.store.readings.lines[landmark];
    const ruled = ruler && line && line.view !== view;
    for (const part of [this.band, this.rule]) part.classList.toggle("gone", !ruled);
    if (ruled) {
      const at = ruler.ground - ruler.scale * line.height;
      const half = ruler.scale * line.tolerance;
      write(this.band, { x: x - span, y: at - half, width: 2 * span, height: 2 * half });
      write(this.rule, { d: `M${x - span} ${at}H${x + span}` });
    }
    const room = this.lineup.root.getBoundingClientRect();
    const low = clientY > room.bottom - SIZE - AWAY - NEAR;
    const near = this.#right ? clientX > room.right - SIZE - AWAY - NEAR : clientX < room.left + SIZE + AWAY + NEAR;
    if (low && near) this.#right = !this.#right;
    const left = this.#right ? room.width - SIZE - AWAY : AWAY;
    this.root.style.transform = `translate(${left}px, ${room.height - SIZE - AWAY}px)`;
    this.root.hidden = false;
    return undefined;
  }

  hide() { this.root.hidden = true; }
}
