// Draws the placings, the proposals and the ruled heights. Every mark is a focusable, named element.
import { CORNERS, boxOf, measured, settle } from "./labels.js";
import { shortened } from "./lettering.js";
import { shapeOf, svg, write } from "./shapes.js";
import { spotOf } from "./store.js";

const REACH = 7; // screen px from a mark's middle to its edge
const INSET = 6; // screen px that a caption keeps from its drawing's left edge and from the line-up's

export class Marks {
  #shown = new Map();
  #offers = new Map();

  constructor(store, lineup, desk) {
    Object.assign(this, { store, lineup, desk });
    store.addEventListener("change", () => this.draw());
    store.addEventListener("readings", () => this.draw());
    desk.addEventListener("choice", () => this.draw());
    desk.addEventListener("moved", () => this.put());
    lineup.addEventListener("shown", () => this.put());
  }

  element(key) { return this.#shown.get(key)?.group; }

  draw() {
    // while a mark is moved the paper lies still: a moved ground would draw it along with it
    if (!this.store.draft.size) this.lineup.place();
    const { root } = this.lineup;
    root.dataset.up = JSON.stringify([this.desk.view, this.desk.chosen]);
    root.dataset.rests = String(this.store.rests);
    this.#drop(this.#shown, this.store.placings);
    const worded = [];
    for (const [key, placing] of this.store.placings) worded.push(this.#drawMark(key, placing));
    // all at once: to measure one after writing another would lay the page out each time
    for (const mark of worded) if (mark.label.textContent && !mark.size) mark.size = measured(mark.label);
    this.#drawOffers();
    this.put();
  }

  /** Take away what is there no more; the drawing has the focus then, if that had it. */
  #drop(shown, wanted) {
    for (const [key, { group }] of shown) {
      if (wanted.has(key)) continue;
      const held = group.contains(document.activeElement);
      group.remove();
      shown.delete(key);
      if (held) this.lineup.groups.get(JSON.parse(key)[0])?.group.focus();
    }
  }

  #drawMark(key, placing) {
    let mark = this.#shown.get(key);
    if (!mark) {
      mark = {
        view: placing.view,
        ground: placing.landmark === "ground",
        hit: svg("circle", { class: "hit", r: 13 }),
        ring: svg("circle", { class: "ring", r: 9 }),
        shape: svg("use", { x: -7, y: -7, width: 14, height: 14 }),
        grip: svg("path", { class: "grip" }),
        span: svg("path", { class: "span" }),
        cross: svg("path", { class: "cross", d: "M-16 0H-4M4 0H16M0 -16V-4M0 4V16" }),
        label: svg("text"),
      };
      mark.group = svg("g", { role: "button", "data-key": key }, mark.grip, mark.span, mark.hit, mark.ring, mark.shape, mark.cross, mark.label);
      this.lineup.marks.append(mark.group);
      this.#shown.set(key, mark);
    }
    const { desk, store } = this;
    const chosen = placing.landmark === desk.chosen;
    const reading = store.reading(placing.view, placing.landmark);
    const words = reading?.words ?? "";
    const verdict = reading?.verdict ?? "waiting";
    write(mark.group, {
      class: `mark is-${verdict}${chosen ? " chosen" : ""}${key === desk.key ? " current" : ""}`
        + `${placing.hidden ? " behind" : ""}${store.loose(placing) ? " loose" : ""}${placing.landmark === "ground" ? " ground" : ""}`,
      tabindex: chosen ? 0 : -1,
      "aria-pressed": key === desk.key,
      "aria-label": [
        desk.title(placing.landmark, placing.view), words, placing.hidden ? "hidden behind another part" : "",
        placing.by ? `placed by ${placing.by}` : "",
      ].filter(Boolean).join(", "),
    });
    write(mark.shape, { href: shapeOf(verdict) });
    const label = chosen && verdict !== "across" ? words : "";
    if (mark.label.textContent !== label) {
      mark.label.textContent = label;
      mark.size = null;
    }
    // on top once it is chosen; moved at each choice, marks would catch the Tab key between them
    if (chosen && !mark.onTop && !mark.group.contains(document.activeElement)) this.lineup.marks.append(mark.group);
    mark.onTop = chosen;
    return mark;
  }

  #drawOffers() {
    const { store, desk } = this;
    const offered = store.views.map((view) => desk.chosen && !store.has(view.name, desk.chosen)
      && store.proposal(view.name, desk.chosen)).filter(Boolean);
    const wanted = new Map(offered.map((p) => [spotOf(p.view, p.landmark), p]));
    this.#drop(this.#offers, wanted);
    for (const [key, proposal] of wanted) {
      let offer = this.#offers.get(key);
      if (!offer) {
        offer = { view: proposal.view, ground: proposal.landmark === "ground", grip: svg("path", { class: "grip" }), span: svg("path", { class: "offer span" }) };
        offer.group = svg("g", { role: "button", "data-proposal": key },
          svg("circle", { class: "hit", r: 13 }), svg("circle", { class: "ring", r: 12 }),
          offer.grip, offer.span, svg("path", { class: "offer", d: "M-8 -8H8V8H-8Z" }));
        this.lineup.marks.append(offer.group);
        this.#offers.set(key, offer);
      }
      const behind = desk.isBehind(proposal.view);
      write(offer.group, {
        class: `proposal chosen${behind ? " behind" : ""}${proposal.doubtful ? " doubtful" : ""}${proposal.view === desk.view ? " up" : ""}`,
        tabindex: proposal.doubtful ? -1 : 0,
        "aria-label": `Proposal: ${desk.title(proposal.landmark, proposal.view)}, from ${proposal.source}${behind ? ", hidden behind another part" : ""}${proposal.doubtful ? ", unsure" : ""}`,
      });
    }
  }

  /** Put everything where it belongs at the present zoom. */
  put() {
    const { lineup, store } = this;
    if (!lineup.bounds) return;
    for (const [key, mark] of this.#shown) {
      const placing = store.placings.get(key);
      if (placing) this.#putAt(mark, store.at(placing), -13);
    }
    for (const [key, offer] of this.#offers) {
      const proposal = store.proposal(...JSON.parse(key));
      if (proposal) this.#putAt(offer, proposal, 8);
    }
    this.#label(this.#rule());
  }

  /** Put a mark or an offer at a spot of its drawing; a ground's line begins so many screen px from it. */
  #putAt(mark, spot, begins) {
    const { lineup } = this;
    const { box, unit } = lineup;
    const frame = lineup.frames.get(mark.view);
    const [x, y] = lineup.toWorld(mark.view, spot.x, spot.y);
    const wx = mark.ground ? this.#handle(frame) : x;
    write(mark.group, { transform: `translate(${wx} ${y}) scale(${unit})` });
    if (mark.ground) for (const part of [mark.span, mark.grip]) write(part, { d: `M${begins} 0H${(frame.x + frame.w - wx) / unit}` });
    [mark.x, mark.y] = [(wx - box.x) / unit, (y - box.y) / unit];
  }

  /** Where a ground line is taken hold of: at the left end of what is seen of its drawing. */
  #handle(frame) {
    const inset = 13 * this.lineup.unit;
    return Math.min(Math.max(frame.x, this.lineup.box.x), frame.x + frame.w - 2 * inset) + inset;
  }

  /** Put the words beside the chosen landmark's marks where they can be read. */
  #label(caption) {
    const { lineup } = this;
    const room = [0, 0, lineup.width, lineup.height];
    const all = [...this.#shown.values()];
    const inSight = ({ x, y }) => x > 0 && y > 0 && x < room[2] && y < room[3];
    for (const mark of all) write(mark.label, { visibility: inSight(mark) ? "visible" : "hidden" });
    const seen = all.filter(inSight);
    const labelled = seen.filter(({ label }) => label.textContent);
    for (const mark of labelled) mark.frame = lineup.onScreen(mark.view);
    settle(labelled, room, [...[...lineup.groups.values()].map(({ box }) => box), ...caption],
      seen.map(({ x, y }) => [x - REACH, y - REACH, x + REACH, y + REACH]));
    for (const { label, corner } of labelled) {
      const { x, y, way } = CORNERS[corner];
      write(label, { "text-anchor": way > 0 ? "start" : "end", x, y });
    }
  }

  /** Rule the chosen landmark's height across the views that stand on a known ground. Returns
   *  the rectangles that its words take, at most one. */
  #rule() {
    const { lineup, store, desk } = this;
    const { unit } = lineup;
    const parts = [];
    const grounded = store.views.filter((view) => view.name in store.readings.scales);
    for (const view of grounded) {
      const f = lineup.frames.get(view.name);
      const [, y] = lineup.toWorld(view.name, 0, store.readings.scales[view.name].ground);
      parts.push(svg("path", { class: "rule ground", d: `M${f.x} ${y}H${f.x + f.w}` }));
    }
    const line = store.readings.lines[desk.chosen];
    if (line && desk.chosen !== "ground") {
      for (const view of grounded) {
        const f = lineup.frames.get(view.name);
        if (view.name !== line.view) {
          parts.push(svg("rect", { class: "band", x: f.x, width: f.w, y: -line.height - line.tolerance, height: 2 * line.tolerance }));
        }
        parts.push(svg("path", { class: view.name === line.view ? "rule from" : "rule", d: `M${f.x} ${-line.height}H${f.x + f.w}` }));
      }
    }
    lineup.over.querySelector(".ruled")?.remove();
    lineup.over.prepend(svg("g", { class: "ruled" }, ...parts));
    const open = line && desk.chosen !== "ground" && grounded.find((view) => view.name !== line.view
      && !store.has(view.name, desk.chosen) && lineup.sees(view.name));
    return open ? [this.#caption(line, lineup.onScreen(open.name)[0])] : [];
  }

  /** Say under a ruled height, or above it at the lower edge, what it is. */
  #caption(line, left) {
    const { lineup, store, desk } = this;
    const from = line.view ? `from ${store.viewOf.get(line.view).title}` : "where the drawings agree";
    const text = svg("text", { class: "height" });
    text.textContent = `${desk.mark.title}, ${from}`;
    lineup.over.querySelector(".ruled").append(text);
    const free = lineup.width - 2 * INSET;
    const size = measured(text);
    text.textContent = shortened(text.textContent, size.wide, free);
    size.wide = Math.min(size.wide, free);
    const x = Math.min(Math.max(left, 0), free - size.wide) + INSET;
    const ruled = (-line.height - lineup.box.y) / lineup.unit;
    const under = size.rise + 1;
    const y = ruled + (ruled + under + size.fall > lineup.height ? -size.fall - 1 : under);
    text.setAttribute("transform", `translate(${lineup.box.x + x * lineup.unit} ${lineup.box.y + y * lineup.unit}) scale(${lineup.unit})`);
    return boxOf(x, y, size);
  }
}

export const placingOf = (store, element) => store.placings.get(element?.closest("[data-key]")?.dataset.key);
export const proposalOf = (store, element) => {
  const key = element?.closest("[data-proposal]")?.dataset.proposal;
  return key ? store.proposal(...JSON.parse(key)) : undefined;
};
