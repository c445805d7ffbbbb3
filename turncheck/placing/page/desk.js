// What a person does: choose a landmark, place it, move it, take it back. One way for mouse and keys.
import { keyOf } from "./store.js";

const SETTLED = 350; // ms after the last arrow key when a nudge is saved

export class Desk extends EventTarget {
  chosen = null; // a landmark's name
  view = null; // the view last worked on
  key = null; // the placing last worked on
  by = "";
  again = false; // the next placing is a repeat beside the one that is there
  spots = new Map(); // by view: where the keyboard's crosshair is, px of the drawing
  #nudged = null;

  constructor(store, lineup) {
    super();
    this.store = store;
    this.lineup = lineup;
    store.addEventListener("change", () => {
      if (this.key && !store.placings.has(this.key)) this.key = null;
    });
  }

  get mark() { return this.store.landmarkOf.get(this.chosen); }
  get placing() { return this.store.placings.get(this.key); }

  title(landmark, view) {
    return `${this.store.landmarkOf.get(landmark).title} on ${this.store.viewOf.get(view).title}`;
  }

  missing(landmark) { return this.store.views.filter((view) => !this.store.has(view.name, landmark)); }

  choose(landmark, view = this.view) {
    this.flush();
    this.chosen = landmark;
    this.again = false;
    this.view = view ?? this.store.setting.base;
    const here = landmark ? this.store.of(this.view, landmark, this.by)[0] : null;
    this.key = here ? keyOf(here) : null;
    this.spots.clear();
    this.dispatchEvent(new Event("choice"));
  }

  select(placing) {
    this.choose(placing.landmark, placing.view);
    this.key = keyOf(placing);
    this.dispatchEvent(new Event("choice"));
  }

  /** Work on a placing of the chosen landmark. */
  at(placing) {
    if (placing.landmark !== this.chosen) return this.select(placing);
    if (this.key === keyOf(placing)) return undefined;
    this.view = placing.view;
    this.key = keyOf(placing);
    return this.dispatchEvent(new Event("choice"));
  }

  /** Go to the next landmark that some view still lacks, or just to the neighbour in the list. */
  next(way = 1, onlyMissing = false) {
    const names = this.store.landmarks.map((mark) => mark.name);
    const start = names.indexOf(this.chosen);
    for (let i = 1; i <= names.length; i += 1) {
      const name = names[(start + way * i + names.length * 2) % names.length];
      if (!onlyMissing || this.missing(name).length) return this.choose(name);
    }
    return this.choose(null);
  }

  /** Where the crosshair starts on a view: a proposal, the ruled height, or the middle. */
  spot(view) {
    const kept = this.spots.get(view);
    if (kept) return kept;
    const proposal = this.store.proposal(view, this.chosen);
    const [left, top, right, bottom] = this.store.viewOf.get(view).crop;
    const ruler = this.store.readings.scales[view];
    const line = this.store.readings.lines[this.chosen];
    const y = ruler && line ? ruler.ground - ruler.scale * line.height : (top + bottom) / 2;
    const found = proposal ? { x: proposal.x, y: proposal.y } : { x: Math.round((left + right) / 2), y };
    this.spots.set(view, found);
    return found;
  }

  #inside(view, x, y) {
    const { width, height } = this.store.viewOf.get(view);
    return { x: Math.min(Math.max(x, -0.5), width - 0.5), y: Math.min(Math.max(y, -0.5), height - 0.5) };
  }

  /** What is moved by hand is no loose proposal any more. */
  #seen(placing) { return this.store.loose(placing) ? { ...placing, sd: null } : placing; }

  /** Say that a proposal accepted unseen lies right where it is. */
  async confirm() {
    await this.flush();
    const { placing } = this;
    if (!placing || !this.store.loose(placing)) return;
    await this.store.make(this.title(placing.landmark, placing.view), [this.#seen(placing)]);
  }

  #freeName(view, landmark) {
    const taken = this.store.of(view, landmark).map((placing) => placing.by);
    const person = this.by.split("#")[0];
    if (!taken.includes(person)) return person;
    let number = 2;
    while (taken.includes(`${person}#${number}`)) number += 1;
    return `${person}#${number}`;
  }

  async place(view, x, y, sd = null) {
    if (!this.chosen) return;
    this.flush();
    const { chosen } = this;
    const old = this.again ? null : this.store.of(view, chosen, this.by)[0];
    const by = old ? old.by : this.again ? this.#freeName(view, chosen) : this.by;
    const { again } = this;
    const step = { view, landmark: chosen, by, hidden: old?.hidden ?? false, sd: old ? this.#seen(old).sd : sd, ...this.#inside(view, x, y) };
    this.again = false;
    if (!await this.store.make(this.title(chosen, view), [step])) return;
    if (this.chosen !== chosen) return;
    this.view = view;
    this.key = keyOf(step);
    if (!old && !again && !this.missing(chosen).length) this.next(1, true);
    else this.dispatchEvent(new Event("choice"));
    const left = this.chosen ? this.missing(this.chosen)[0] : null;
    if (left && this.lineup.narrow) this.lineup.closeUp(left.name);
  }

  /** Show a placing somewhere else while it is moved; `drop` saves it there. */
  drag(placing, x, y) {
    const at = this.#inside(placing.view, x, y);
    this.store.draft.set(keyOf(placing), at);
    this.store.attempt([{ ...this.#seen(placing), ...at }]);
    this.dispatchEvent(new CustomEvent("moved", { detail: placing }));
  }

  drop(placing) {
    const at = this.store.draft.get(keyOf(placing));
    if (!at) return Promise.resolve(false);
    return this.store.make(this.title(placing.landmark, placing.view), [{ ...this.#seen(placing), ...at }]);
  }

  nudge(placing, dx, dy) {
    if (this.#nudged && keyOf(this.#nudged) !== keyOf(placing)) this.flush();
    const at = this.store.at(placing);
    this.drag(placing, at.x + dx, at.y + dy);
    this.#nudged = placing;
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.flush(), SETTLED);
  }

  flush() {
    clearTimeout(this.settling);
    const placing = this.#nudged;
    this.#nudged = null;
    return placing ? this.drop(placing) : Promise.resolve(false);
  }

  accept(proposal) {
    this.view = proposal.view;
    this.chosen = proposal.landmark;
    return this.place(proposal.view, proposal.x, proposal.y, proposal.doubtful ? proposal.sd : null);
  }

  acceptAll(view) {
    const steps = this.store.proposals.filter((p) => p.view === view && !p.doubtful)
      .map((p) => ({ view, landmark: p.landmark, by: this.by, x: p.x, y: p.y, hidden: false, sd: p.sd }));
    const title = this.store.viewOf.get(view).title;
    if (steps.length) return this.store.make(`${steps.length} proposals on ${title}`, steps);
    return Promise.resolve(false);
  }

  async hide() {
    await this.flush();
    const { placing } = this;
    if (!placing) return;
    await this.store.make(this.title(placing.landmark, placing.view), [{ ...placing, hidden: !placing.hidden }]);
  }

  async remove() {
    await this.flush();
    const { placing } = this;
    if (!placing) return;
    const { view, landmark, by } = placing;
    await this.store.make(this.title(landmark, view), [{ view, landmark, by, delete: true }]);
    this.dispatchEvent(new Event("choice"));
  }

  /** Why the placing can't be copied to the other side, or "". */
  get noMirror() {
    const { placing, mark } = this;
    if (!placing) return "nothing is placed here";
    if (!mark?.twin) return `${mark?.title ?? "this"} has no other side`;
    if (!this.store.viewOf.get(placing.view).straight) return "only where the figure stands straight on";
    if (!(placing.view in this.store.readings.midlines)) return "place a point of the middle first, such as the chin";
    return "";
  }

  async mirror() {
    await this.flush();
    if (this.noMirror) return;
    const { placing, mark } = this;
    const { view } = placing;
    const old = this.store.of(view, mark.twin, this.by)[0];
    const x = 2 * this.store.readings.midlines[view] - placing.x;
    const step = {
      view, landmark: mark.twin, by: old?.by ?? this.by, hidden: placing.hidden, sd: old?.sd ?? null,
      ...this.#inside(view, x, placing.y),
    };
    if (await this.store.make(this.title(mark.twin, view), [step])) this.select(step);
  }

  placeAgain() {
    this.again = !this.again;
    this.dispatchEvent(new Event("choice"));
  }

  async undo() { await this.flush(); await this.store.undo(); }
  async redo() { await this.flush(); await this.store.redo(); }
}
