// Draws the placings, the proposals and the ruled heights. Every mark is a focusable, named element.
import { svg } from "./stage.js";

const NEAR = 84; // screen px left of a drawing's edge where a label turns to the other side
const SHAPES = ["on_model", "off_model", "undecided", "waived", "reference"];

export class Marks {
  all = false; // proposals of every landmark, not only of the chosen one
  #shown = new Map();
  #offers = new Map();

  constructor(store, stage, desk) {
    Object.assign(this, { store, stage, desk });
    store.addEventListener("change", () => this.draw());
    store.addEventListener("readings", () => this.draw());
    desk.addEventListener("choice", () => this.draw());
    desk.addEventListener("moved", () => this.put());
    stage.addEventListener("shown", () => this.put());
  }

  element(key) { return this.#shown.get(key)?.group; }

  draw() {
    // while a mark is moved the paper lies still: a moved ground would draw it along with it
    if (!this.store.draft.size) this.stage.place();
    for (const [key, mark] of this.#shown) {
      if (!this.store.placings.has(key)) {
        const held = mark.group.contains(document.activeElement);
        mark.group.remove();
        this.#shown.delete(key);
        if (held) this.stage.groups.get(mark.view)?.group.focus();
      }
    }
    for (const [key, placing] of this.store.placings) this.#drawMark(key, placing);
    this.#drawOffers();
    this.put();
  }

  #drawMark(key, placing) {
    let mark = this.#shown.get(key);
    if (!mark) {
      mark = {
        view: placing.view,
        hit: svg("circle", { class: "hit", r: 13 }),
        ring: svg("circle", { class: "ring", r: 9 }),
        shape: svg("use"),
        grip: svg("path", { class: "grip" }),
        span: svg("path", { class: "span" }),
        cross: svg("path", { class: "cross", d: "M-16 0H-4M4 0H16M0 -16V-4M0 4V16" }),
        label: svg("text"),
      };
      mark.group = svg("g", { role: "button", "data-key": key }, mark.grip, mark.span, mark.hit, mark.ring, mark.shape, mark.cross, mark.label);
      this.stage.marks.append(mark.group);
      this.#shown.set(key, mark);
    }
    const { desk, store } = this;
    const chosen = placing.landmark === desk.chosen;
    const reading = store.reading(placing.view, placing.landmark);
    const words = reading?.words ?? "";
    const verdict = reading?.verdict ?? "waiting";
    const shape = SHAPES.includes(verdict) ? verdict : "plain";
    mark.group.setAttribute("class", `mark is-${verdict}${chosen ? " chosen" : ""}${key === desk.key ? " current" : ""}`
      + `${placing.hidden ? " behind" : ""}${store.loose(placing) ? " loose" : ""}${placing.landmark === "ground" ? " ground" : ""}`);
    mark.group.setAttribute("tabindex", chosen ? "0" : "-1");
    mark.group.setAttribute("aria-pressed", key === desk.key ? "true" : "false");
    mark.group.setAttribute("aria-label", [
      desk.title(placing.landmark, placing.view), words, placing.hidden ? "hidden behind another part" : "",
      placing.by ? `placed by ${placing.by}` : "",
    ].filter(Boolean).join(", "));
    mark.shape.setAttribute("href", `#shape-${shape}`);
    for (const [name, value] of [["x", -7], ["y", -7], ["width", 14], ["height", 14]]) mark.shape.setAttribute(name, value);
    mark.label.textContent = chosen ? words : "";
    if (chosen) this.stage.marks.append(...(mark.group.contains(document.activeElement) ? [] : [mark.group]));
  }

  #drawOffers() {
    const { store, desk } = this;
    const wanted = new Map(store.proposals
      .filter((p) => (this.all || p.landmark === desk.chosen) && !store.has(p.view, p.landmark))
      .map((p) => [JSON.stringify([p.view, p.landmark]), p]));
    for (const [key, group] of this.#offers) {
      if (!wanted.has(key)) {
        const held = group.contains(document.activeElement);
        group.remove();
        this.#offers.delete(key);
        if (held) this.stage.groups.get(JSON.parse(key)[0])?.group.focus();
      }
    }
    for (const [key, proposal] of wanted) {
      let group = this.#offers.get(key);
      if (!group) {
        group = svg("g", { role: "button", "data-proposal": key },
          svg("circle", { class: "hit", r: 13 }),
          svg("path", { class: "grip" }), svg("path", { class: "offer span" }), svg("path", { class: "offer", d: "M-8 -8H8V8H-8Z" }));
        this.stage.marks.append(group);
        this.#offers.set(key, group);
      }
      const chosen = proposal.landmark === desk.chosen;
      group.setAttribute("class", `proposal${chosen ? " chosen" : ""}`);
      group.setAttribute("tabindex", chosen ? "0" : "-1");
      group.setAttribute("aria-label", `Proposal: ${desk.title(proposal.landmark, proposal.view)}, from ${proposal.source}`);
    }
  }

  /** Put everything where it belongs at the present zoom. */
  put() {
    const { stage, store } = this;
    if (!stage.bounds) return;
    const { unit } = stage;
    for (const [key, mark] of this.#shown) {
      const placing = store.placings.get(key);
      if (!placing) continue;
      const at = store.at(placing);
      const frame = stage.frames.get(placing.view);
      const [x, y] = stage.toWorld(placing.view, at.x, at.y);
      const ground = placing.landmark === "ground";
      const wx = ground ? frame.x + 13 * unit : x;
      mark.group.setAttribute("transform", `translate(${wx} ${y}) scale(${unit})`);
      if (ground) for (const part of [mark.span, mark.grip]) part.setAttribute("d", `M-13 0H${frame.w / unit - 13}`);
      const turned = !ground && (frame.x + frame.w - wx) / unit < NEAR;
      mark.label.setAttribute("text-anchor", turned ? "end" : "start");
      mark.label.setAttribute("x", turned ? -14 : 14);
      mark.label.setAttribute("y", -9);
    }
    for (const [key, group] of this.#offers) {
      const [view, landmark] = JSON.parse(key);
      const proposal = store.proposal(view, landmark);
      if (!proposal) continue;
      const [x, y] = stage.toWorld(view, proposal.x, proposal.y);
      const frame = stage.frames.get(view);
      const ground = landmark === "ground";
      group.setAttribute("transform", `translate(${ground ? frame.x + 13 * unit : x} ${y}) scale(${unit})`);
      if (ground) for (const part of group.querySelectorAll(".span, .grip")) part.setAttribute("d", `M8 0H${frame.w / unit - 13}`);
    }
    this.#rule();
  }

  /** Rule the chosen landmark's height across the views that stand on a known ground. */
  #rule() {
    const { stage, store, desk } = this;
    const { unit } = stage;
    const parts = [];
    const grounded = store.views.filter((view) => view.name in store.readings.rulers);
    for (const view of grounded) {
      const f = stage.frames.get(view.name);
      const [, y] = stage.toWorld(view.name, 0, store.readings.rulers[view.name].ground);
      parts.push(svg("path", { class: "floor", d: `M${f.x} ${y}H${f.x + f.w}` }));
    }
    const line = store.readings.lines[desk.chosen];
    if (line && desk.chosen !== "ground") {
      for (const view of grounded) {
        const f = stage.frames.get(view.name);
        if (view.name !== line.view) {
          parts.push(svg("rect", { class: "band", x: f.x, width: f.w, y: -line.height - line.tolerance, height: 2 * line.tolerance }));
        }
        parts.push(svg("path", { class: view.name === line.view ? "rule from" : "rule", d: `M${f.x} ${-line.height}H${f.x + f.w}` }));
      }
      const open = grounded.find((view) => view.name !== line.view && !store.has(view.name, desk.chosen)
        && stage.frames.get(view.name).x + stage.frames.get(view.name).w > stage.box.x);
      const from = line.view ? `from ${store.viewOf.get(line.view).title}` : "where the views agree";
      const x = open ? Math.max(stage.frames.get(open.name).x, stage.box.x) + 6 * unit : 0;
      const text = svg("text", { class: "height", transform: `translate(${x} ${-line.height + 15 * unit}) scale(${unit})` });
      text.textContent = `${desk.mark.title}, ${from}`;
      if (open) parts.push(text);
    }
    stage.over.querySelector(".ruled")?.remove();
    stage.over.prepend(svg("g", { class: "ruled" }, ...parts));
  }
}

export const placingOf = (store, element) => store.placings.get(element?.closest("[data-key]")?.dataset.key);
export const proposalOf = (store, element) => {
  const key = element?.closest("[data-proposal]")?.dataset.proposal;
  return key ? store.proposal(...JSON.parse(key)) : undefined;
};
