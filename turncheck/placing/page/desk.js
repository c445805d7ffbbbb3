// What a person does: place the point that is up, or say that it is not seen; move, change and take
// out what is placed. One way for mouse and keys. A click places and never moves what is there.
import { keyOf, spotOf } from "./store.js";

const SETTLED = 350; // ms after the last arrow key when a nudge is saved
const HAND = 1; // screen px by which a hand misses; common practice, no source
const LET_PASS = 5; // screen px within which a point that is only looked at is let pass; likewise
const RECTANGLE = 1 / Math.sqrt(12); // a px's rectangular distribution (JCGM 100:2008, F.2.2.1)

export class Desk extends EventTarget {
  chosen = null; // the name of the point that is up
  view = null; // the drawing that it is up on
  key = null; // the placing last worked on
  by = "";
  picked = false; // the point that is up was chosen by the person
  again = false; // the next placing is a repeat beside the one that is there
  #behind = null; // whether the point that is up lies behind a part, where the person says so before it is placed
  follow = true; // one drawing after another, close up; else point by point across all drawings
  spots = new Map(); // by drawing: where the keyboard's cross was moved to, px of the drawing
  #nudged = null;

  constructor(store, lineup) {
    super();
    this.store = store;
    this.lineup = lineup;
    store.addEventListener("change", () => {
      if (this.key && !store.placings.has(this.key)) this.key = null;
    });
  }

  /** Begin with the first point that an earlier revision shows, or else where something is left to do. */
  begin() {
    const { begin, order } = this.store.setting;
    const [view, landmark] = begin ?? [order[0], "ground"];
    this.choose(landmark, view);
    if (!this.open) this.advance();
    this.#takeOver();
  }

  /** Give the sheet what this browser alone remembered as not seen, as it did once. */
  async #takeOver() {
    const { store } = this;
    const { character, revision } = store.setting;
    const kept = `turncheck not seen: ${character}, ${revision}`;
    const known = JSON.parse(localStorage.getItem(kept) ?? "[]").filter(([view, landmark]) =>
      store.viewOf.has(view) && store.landmarkOf.has(landmark) && !this.settled(view, landmark));
    if (known.length) store.make("what is not seen", known.map(([view, landmark]) => ({ view, landmark, unseen: true })));
    if (await store.saved()) localStorage.removeItem(kept);
  }

  get mark() { return this.store.landmarkOf.get(this.chosen); }
  get placing() { return this.store.placings.get(this.key); }
  /** The placing of the point that is up on its drawing. */
  get own() {
    const { placing, chosen, view } = this;
    return placing?.landmark === chosen && placing?.view === view ? placing : this.store.of(view, chosen, this.by)[0];
  }
  /** Whether the point that is up is to be placed on its drawing. */
  get open() { return Boolean(this.chosen && (this.again || !this.store.has(this.view, this.chosen))); }
  get offer() {
    const found = this.open && !this.again ? this.store.proposal(this.view, this.chosen) : null;
    return found && !found.doubtful ? found : null;
  }

  title(landmark, view) {
    return `${this.store.landmarkOf.get(landmark).title} on ${this.store.viewOf.get(view).title}`;
  }

  isUnseen(view, landmark) {
    return this.store.unseen.has(spotOf(view, landmark)) || this.store.viewOf.get(view).behind.includes(landmark);
  }

  settled(view, landmark) { return this.store.has(view, landmark) || this.isUnseen(view, landmark); }

  missing(landmark) { return this.store.views.filter((view) => !this.settled(view.name, landmark)); }

  choose(landmark, view = this.view) {
    this.flush();
    const here = landmark ? this.store.of(view, landmark, this.by)[0] : null;
    this.#up(landmark, view);
    this.picked = true;
    if (here) this.key = keyOf(here);
    this.dispatchEvent(new Event("choice"));
  }

  #up(landmark, view) {
    Object.assign(this, { chosen: landmark, view, again: false, picked: false });
    this.#behind = null;
    this.spots.clear();
  }

  select(placing) {
    this.choose(placing.landmark, placing.view);
    this.key = keyOf(placing);
    this.dispatchEvent(new Event("choice"));
  }

  /** Work on a placing, whatever point is up. */
  at(placing) {
    if (this.key === keyOf(placing)) return;
    this.key = keyOf(placing);
    this.dispatchEvent(new Event("choice"));
  }

  /** Go on to what is left: the ground of every drawing, on this drawing, and then on the next;
   *  or point by point across all drawings. */
  advance(here = false) {
    const { setting: { order }, viewOf, landmarks } = this.store;
    const turned = (list, from) => [...list.slice(from), ...list.slice(0, from)];
    const grounds = this.follow && this.chosen === "ground" ? order.map((view) => [view, "ground"]) : [];
    const drawings = turned(order, grounds.length ? 0 : order.indexOf(this.view));
    const names = this.follow ? viewOf.get(this.view).walk : landmarks.map((mark) => mark.name);
    const first = Math.max(names.indexOf(this.chosen), 0) + (here || !this.follow ? 0 : 1);
    const tasks = this.follow
      ? drawings.flatMap((view, i) => (i || grounds.length ? viewOf.get(view).walk : turned(names, first)).map((name) => [view, name]))
      : turned(names, first).flatMap((name) => drawings.map((view) => [view, name]));
    const [view, name] = [...grounds, ...tasks].find((task) => !this.settled(...task)) ?? [this.view, null];
    this.#up(name, view);
    this.dispatchEvent(new Event("choice"));
  }

  /** Go to the neighbour in the list, whatever is placed. */
  walk(way) {
    const names = this.store.viewOf.get(this.view).walk;
    const from = this.chosen ? names.indexOf(this.chosen) : way > 0 ? -1 : 0;
    this.choose(names[(from + way + names.length) % names.length]);
  }

  /** Say that the point that is up is not seen on its drawing, or that it is. */
  unsee() {
    const { chosen: landmark, view, store } = this;
    if (!landmark || store.has(view, landmark)) return;
    const was = store.unseen.has(spotOf(view, landmark));
    store.make(`${this.title(landmark, view)}, ${was ? "" : "not "}seen`, [{ view, landmark, unseen: true, delete: was }]);
    if (!was) this.advance();
  }

  /** Where a point is looked for on a drawing: where it might lie, or at the height that another
   *  drawing has it at; null where nothing tells. */
  expected(view, landmark) {
    const { store } = this;
    const found = store.of(view, landmark)[0] ?? store.proposal(view, landmark);
    if (found) return { x: found.x, y: found.y };
    const [left, top, right, bottom] = store.viewOf.get(view).crop;
    const x = Math.round((left + right) / 2);
    const scale = store.readings.scales[view];
    const line = store.readings.lines[landmark];
    if (scale && line) return { x, y: scale.ground - scale.scale * line.height };
    const other = [...store.placings.values()].find((placing) => placing.landmark === landmark);
    if (!other) return null;
    const [, high, , low] = store.viewOf.get(other.view).crop;
    return { x, y: top + (bottom - top) * (other.y - high) / (low - high) };
  }

  /** Where the keyboard's cross is on a drawing. */
  spot(view) {
    const [left, top, right, bottom] = this.store.viewOf.get(view).crop;
    return this.spots.get(view) ?? this.expected(view, this.chosen)
      ?? { x: Math.round((left + right) / 2), y: Math.round((top + bottom) / 2) };
  }

  #inside(view, x, y) {
    const { width, height } = this.store.viewOf.get(view);
    return { x: Math.min(Math.max(x, -0.5), width - 0.5), y: Math.min(Math.max(y, -0.5), height - 0.5) };
  }

  /** How sure a click is, px of the drawing: by the hand, the screen's px and the picture's own.
   *  `scale` is in screen px for one px of the drawing. */
  sure(view, scale = this.lineup.scale(view), hand = HAND) {
    const own = RECTANGLE / this.store.viewOf.get(view).shown;
    return Math.max(Math.hypot(hand, RECTANGLE) / scale, own);
  }

  /** What is written for that: nothing where it is as sure as the sheet takes a placing to be.
   *  One behind another part is a guess besides. */
  #sd(view, hidden, sure) {
    const usual = this.store.usual(view);
    if (sure <= usual) return null;
    return Number(Math.hypot(sure, hidden ? this.#guess(usual) : 0).toFixed(3));
  }

  #guess(usual) { return usual * Math.sqrt(this.store.setting.hidden_factor ** 2 - 1); }

  #freeName(view, landmark) {
    const taken = this.store.of(view, landmark).map((placing) => placing.by);
    const person = this.by.split("#")[0];
    if (!taken.includes(person)) return person;
    let number = 2;
    while (taken.includes(`${person}#${number}`)) number += 1;
    return `${person}#${number}`;
  }

  /** Place the point that is up. */
  place(view, x, y, sure = this.sure(view)) {
    this.flush();
    const { chosen, again, store } = this;
    if (!chosen || (store.has(view, chosen) && !again)) return;
    const by = again ? this.#freeName(view, chosen) : this.by;
    const hidden = this.isBehind(view);
    const step = { view, landmark: chosen, by, hidden, sd: this.#sd(view, hidden, sure), ...this.#inside(view, x, y) };
    this.again = false;
    this.view = view;
    store.make(this.title(chosen, view), [step]);
    this.key = keyOf(step);
    if (again) this.dispatchEvent(new Event("choice"));
    else this.advance();
    this.dispatchEvent(new CustomEvent("placed", { detail: this.key }));
  }

  /** Whether the point that is up lies behind a part on a drawing: as it is placed or, before that,
   *  as the person says, as is proposed, or as wherever it is placed, which a joint in the body does. */
  isBehind(view = this.view) {
    const { chosen, own, store } = this;
    if (view === this.view && own && !this.again) return own.hidden;
    if (view === this.view && this.#behind !== null) return this.#behind;
    const all = [...store.placings.values()].filter(({ landmark }) => landmark === chosen);
    return store.proposal(view, chosen)?.hidden ?? (all.length > 0 && all.every(({ hidden }) => hidden));
  }

  /** Take the proposal for the point that is up, which was looked at and lies right. */
  accept(proposal = this.offer) {
    if (!proposal || proposal.doubtful) return;
    this.chosen = proposal.landmark;
    const { view, x, y } = proposal;
    this.place(view, x, y, this.sure(view, this.lineup.scale(view), LET_PASS / Math.sqrt(3)));
  }

  #moved(placing, at, sure = this.sure(placing.view)) {
    return { ...placing, ...at, sd: this.#sd(placing.view, placing.hidden, sure) };
  }

  /** Show a placing somewhere else while it is moved; `drop` saves it there. */
  drag(placing, x, y) {
    const at = this.#inside(placing.view, x, y);
    this.store.draft.set(keyOf(placing), at);
    this.store.attempt([this.#moved(placing, at)]);
    this.dispatchEvent(new CustomEvent("moved", { detail: placing }));
  }

  drop(placing, sure) {
    const at = this.store.draft.get(keyOf(placing));
    if (at) this.store.make(this.title(placing.landmark, placing.view), [this.#moved(placing, at, sure)]);
  }

  nudge(placing, dx, dy, scale) {
    if (this.#nudged && keyOf(this.#nudged.placing) !== keyOf(placing)) this.flush();
    const at = this.store.at(placing);
    this.drag(placing, at.x + dx, at.y + dy);
    this.#nudged = { placing, sure: this.sure(placing.view, scale) };
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.flush(), SETTLED);
  }

  flush() {
    clearTimeout(this.settling);
    const nudged = this.#nudged;
    this.#nudged = null;
    if (nudged) this.drop(nudged.placing, nudged.sure);
  }

  /** Say that the point that is up lies behind a part, or that it is seen: before it is placed or after. */
  hide() {
    this.flush();
    if (!this.chosen) return;
    if (this.open) {
      this.#behind = !this.isBehind();
      this.dispatchEvent(new Event("choice"));
      return;
    }
    const placing = this.own;
    const usual = this.store.usual(placing.view);
    const more = (placing.hidden ? -1 : 1) * this.#guess(usual) ** 2;
    const sd = placing.sd === null ? null : Math.sqrt(Math.max(placing.sd ** 2 + more, usual ** 2));
    this.store.make(this.title(placing.landmark, placing.view), [{ ...placing, hidden: !placing.hidden, sd }]);
  }

  remove() {
    this.flush();
    const { placing } = this;
    if (!placing) return;
    const { view, landmark, by } = placing;
    this.store.make(this.title(landmark, view), [{ view, landmark, by, delete: true }]);
    this.choose(landmark, view);
  }

  placeAgain() {
    const { placing } = this;
    if (!placing && !this.again) return;
    const again = !this.again;
    if (again) this.#up(placing.landmark, placing.view);
    this.again = again;
    this.dispatchEvent(new Event("choice"));
  }

  undo() { this.flush(); this.#show(this.store.undo()); }
  redo() { this.flush(); this.#show(this.store.redo()); }

  /** Go to what was taken back or made again. */
  #show(step) { if (step) this.choose(step.landmark, step.view); }
}
