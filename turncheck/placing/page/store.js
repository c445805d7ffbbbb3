// The placings as the page shows them: those on disk, with every change that is still to be saved.
import { get, post } from "./server.js";

const LOOK_EVERY = 2500; // ms between looks at whether the file was changed elsewhere
const MOST_TOGETHER = 100; // changes saved at once
const PROPOSE_AFTER = 120; // ms of quiet: a click's own answer comes first
export const keyOf = (p) => JSON.stringify([p.view, p.landmark, p.by]); // of what is not seen, by nobody
export const spotOf = (view, landmark) => JSON.stringify([view, landmark]);

const same = (a, b) => a?.x === b?.x && a?.y === b?.y && a?.hidden === b?.hidden;
const round = (value) => Math.round(value * 100) / 100;

export class Store extends EventTarget {
  placings = new Map(); // by keyOf, in the file's order
  unseen = new Set(); // by spotOf: what a person said is not seen on a drawing
  readings = { scales: {}, of: [], lines: {}, midlines: {}, waiting: "" };
  proposals = [];
  draft = new Map(); // where a mark is while it is moved, before it is dropped
  past = [];
  future = [];
  hash = ""; // of all that is on disk
  table = ""; // of the placings alone
  stale = false; // the sheet or a drawing was saved since the page was loaded
  #disk = new Map(); // placings, and what is not seen, by keyOf
  #now = new Map(); // the same with what is still to be saved
  #unsaved = []; // changes made and not yet on disk, the oldest first
  #proposedFor = null;
  #queue = null; // what is done, one after another; nothing while there is nothing
  #trying = false;
  #next = null;

  async load() {
    const { status, body } = await get("sheet");
    if (status !== 200) return this.#fail(status, body);
    this.setting = body;
    this.views = body.views;
    this.landmarks = body.landmarks;
    this.viewOf = new Map(body.views.map((view) => [view.name, view]));
    this.landmarkOf = new Map(body.landmarks.map((mark) => [mark.name, mark]));
    this.#adopt(body.state);
    setInterval(() => this.look(), LOOK_EVERY);
    addEventListener("focus", () => this.look());
    addEventListener("beforeunload", (event) => { if (this.#unsaved.length) event.preventDefault(); });
    return true;
  }

  /** Whether everything is saved, and the proposals are those for what is saved. */
  get rests() { return !this.#unsaved.length && this.#proposedFor === this.table; }

  /** Wait until nothing more can be saved now; returns whether all is. */
  async saved() {
    await this.#queue;
    return !this.#unsaved.length;
  }

  /** Say why something else that was asked for was not done. */
  refuse(status, body) { this.#tell("refused", status === 422 ? body.error : "That could not be done; write a name of letters and digits."); }

  reading(view, landmark) { return this.#readings.get(spotOf(view, landmark)); }

  /** Placings of one landmark on one view; the one by `by` first, then the file's order. */
  of(view, landmark, by = "") {
    const found = [...this.placings.values()].filter((p) => p.view === view && p.landmark === landmark);
    return found.sort((a, b) => (b.by === by) - (a.by === by));
  }

  /** Whether a placing is so unsure that nothing hangs on it. */
  loose(placing) { return placing.sd !== null && placing.sd >= (this.readings.loose_from ?? Infinity); }

  has(view, landmark) { return this.#there.has(spotOf(view, landmark)); }

  /** Where a landmark might lie on a view: as its other side does, or as the drawings say. */
  proposal(view, landmark) {
    return this.#twin(view, landmark) ?? this.proposals.find((p) => p.view === view && p.landmark === landmark);
  }

  #twin(view, landmark) {
    const { twin, mirrors } = this.landmarkOf.get(landmark) ?? {};
    const { straight, edge_on: edgeOn, far, width } = this.viewOf.get(view);
    const middle = this.readings.midlines[view];
    const other = twin && mirrors ? this.of(view, twin)[0] : null;
    if (!other || this.has(view, landmark)) return null;
    const made = { view, landmark, y: other.y, source: "its other side", doubtful: this.loose(other) };
    if (edgeOn) return { ...made, x: other.x, hidden: landmark.endsWith(far) };
    const x = 2 * middle - other.x;
    return straight && x >= -0.5 && x <= width - 0.5 ? { ...made, x, hidden: other.hidden } : null;
  }

  /** px of one drawing that a placing is sure to where nothing else is said. */
  usual(view) {
    const scale = this.readings.scales[view]?.scale;
    const { figure_height: height } = this.readings;
    return this.setting.placing_sd / 100 * (height && scale ? height * scale : this.viewOf.get(view).tall);
  }

  /** Where a placing is now, counting a move that is not dropped yet. */
  at(placing) { return { ...placing, ...this.draft.get(keyOf(placing)) }; }

  /** Make a change: it shows at once and is saved as soon as can be. `label` is what undo says. */
  make(label, steps) {
    const rounded = steps.map((step) => (step.delete || step.unseen ? step : { ...step, x: round(step.x), y: round(step.y) }));
    const back = rounded.map((step) => this.#now.get(keyOf(step)) ?? { ...this.#key(step), delete: true }).reverse();
    const entry = { label, steps: rounded, back };
    this.past.push(entry);
    this.future = [];
    this.#put(entry);
  }

  #key({ view, landmark, by, unseen }) { return { view, landmark, by, unseen }; }

  undo() { return this.#step(this.past, this.future, "back", "steps"); }
  redo() { return this.#step(this.future, this.past, "steps", "back"); }

  #step(from, to, doing, undoing) {
    const entry = from.pop();
    if (!entry) return null;
    const stands = entry[undoing].every((step) => {
      const now = this.#now.get(keyOf(step));
      return step.delete ? !now : now && same(now, step);
    });
    if (!stands) {
      this.#tell("refused", `${entry.label} was changed elsewhere since, so that step was left out.`);
      this.dispatchEvent(new Event("change"));
      return null;
    }
    to.push(entry);
    this.#put({ label: entry.label, steps: entry[doing] });
    return entry[doing][0];
  }

  #put(entry) {
    for (const step of entry.steps) this.draft.delete(keyOf(step));
    this.#unsaved.push(entry);
    this.#enqueue(() => this.#save()); // it is on its way while the page is drawn
    this.#overlay();
  }

  /** Ask what would be said of placings while they are moved; only the newest question counts. */
  attempt(steps) {
    this.#next = steps;
    if (!this.#trying) this.#try();
  }

  /** See whether the file was changed elsewhere, and show the newer one. */
  look() {
    return this.#enqueue(async () => {
      if (this.draft.size) return; // no notice pushes the paper away under a mark that is moved
      if (this.#unsaved.length) return this.#save();
      const { status, body } = await get("hash");
      this.#heed(body);
      if (status !== 200) return this.#fail(status, body);
      if (body.hash !== this.hash) {
        const newer = await get("state");
        if (newer.status !== 200) return this.#fail(newer.status, newer.body);
        this.#adopt(newer.body);
        this.#tell("elsewhere", `${this.setting.file} was changed elsewhere; this is the newer one.`);
      } else if (this.trouble) this.#tell("mended", "");
    });
  }

  async #try() {
    this.#trying = true;
    while (this.#next) {
      const steps = this.#next;
      this.#next = null;
      const { status, body } = await post("attempt", { base: this.hash, steps });
      if (status === 200 && this.draft.size) {
        this.readings = { ...this.readings, scales: body.scales, lines: { ...this.readings.lines, ...body.lines } };
        this.#index(body.of);
        this.dispatchEvent(new Event("readings"));
      }
    }
    this.#trying = false;
  }

  /** Do work after all other; at once where there is none. */
  #enqueue(work) {
    const begun = this.#queue ? this.#queue.then(work, work) : work();
    this.#queue = begun;
    begun.finally(() => { if (this.#queue === begun) this.#queue = null; });
    return begun;
  }

  /** Save what is not saved yet, all that waits in one change, or one by one where together it is
   *  refused; what can't be saved now is kept for the next look. */
  async #save() {
    let most = MOST_TOGETHER;
    while (this.#unsaved.length) {
      const entries = this.#unsaved.slice(0, most);
      const steps = entries.flatMap((entry) => entry.steps);
      const { status, body } = await post("change", { base: this.hash, steps });
      this.#heed(body);
      if (status === 200) {
        this.#unsaved.splice(0, entries.length);
        this.#adopt(body);
        this.#tell("saved", entries.at(-1).label);
      } else if (status === 409) this.#merge(body.state);
      else if (status === 0 || body.later) return this.#fail(status, body);
      else if (entries.length > 1) most = 1;
      else {
        this.#forget(entries);
        this.#fail(status, body, () => this.#makeAgain(entries));
      }
    }
  }

  /** Go on from a newer file: what it has of the same placings stays, everything else is added. */
  #merge(state) {
    const [before, now] = [this.#disk, this.#saidIn(state)];
    const clashing = this.#unsaved.filter(({ steps }) => steps.some((step) => !same(before.get(keyOf(step)), now.get(keyOf(step)))));
    const newer = `${this.setting.file} was changed elsewhere; this is the newer one.`;
    this.#forget(clashing);
    this.#adopt(state);
    if (!clashing.length) return this.#tell("elsewhere", newer);
    const labels = [...new Set(clashing.map(({ label }) => label))].join(", ");
    return this.#tell("conflict", `${newer} Your change to ${labels} was not saved.`, () => this.#makeAgain(clashing));
  }

  #makeAgain(entries) { for (const { label, steps } of entries) this.make(label, steps); }

  #forget(entries) {
    this.#unsaved = this.#unsaved.filter((one) => !entries.includes(one));
    this.past = this.past.filter((one) => !entries.includes(one));
    this.#overlay();
  }

  #readings = new Map();
  #there = new Set();

  #index(rows) { for (const row of rows) this.#readings.set(spotOf(row.view, row.landmark), row); }

  #saidIn({ placings, unseen }) {
    const all = [...placings, ...unseen.map(([view, landmark]) => ({ view, landmark, unseen: true }))];
    return new Map(all.map((one) => [keyOf(one), one]));
  }

  #adopt(state) {
    Object.assign(this, { hash: state.hash, table: state.table });
    this.#disk = this.#saidIn(state);
    this.readings = state.readings;
    this.#readings.clear();
    this.#index(state.readings.of);
    this.#overlay();
    clearTimeout(this.waiting);
    if (this.#proposedFor !== this.table) this.waiting = setTimeout(() => this.#propose(), PROPOSE_AFTER);
  }

  #overlay() {
    this.#now = new Map(this.#disk);
    for (const step of this.#unsaved.flatMap((entry) => entry.steps)) {
      if (step.delete) this.#now.delete(keyOf(step));
      else this.#now.set(keyOf(step), step);
      if (step.landmark === "ground" && !step.delete && !step.unseen) this.#stand(step);
    }
    const spots = (unseen) => [...this.#now.values()].filter((p) => Boolean(p.unseen) === unseen).map((p) => spotOf(p.view, p.landmark));
    this.placings = new Map([...this.#now].filter(([, p]) => !p.unseen));
    [this.#there, this.unseen] = [new Set(spots(false)), new Set(spots(true))];
    this.dispatchEvent(new Event("change"));
  }

  /** Let a drawing stand on its ground as soon as that is placed: the paper moves with the click and
   *  not under the next one. */
  #stand({ view, y }) {
    if (this.setting.placing !== "ground") return;
    const { scales } = this.readings;
    this.readings = { ...this.readings, scales: { ...scales, [view]: { scale: 1, ...scales[view], ground: y } } };
  }

  /** See from an answer whether the sheet or a drawing was saved since the page was loaded. */
  #heed({ stamp }) {
    if (stamp === undefined) return;
    this.stale = stamp !== this.setting.stamp;
    this.dispatchEvent(new Event("stale"));
  }

  async #propose() {
    const asked = this.table;
    const { status, body } = await get("proposals");
    if (status !== 200 || asked !== this.table) return; // those of a table that has changed since are asked for anew
    this.proposals = body.filter((p) => !this.has(p.view, p.landmark));
    this.#proposedFor = asked;
    this.dispatchEvent(new Event("change"));
  }

  #fail(status, body, again) {
    const kept = this.#unsaved.length;
    const waits = kept ? ` ${kept === 1 ? "The last change is" : `The last ${kept} changes are`} kept here and saved then: leave this page open.` : "";
    const gone = `turncheck is not running, so nothing can be saved: start turncheck mark again and this page goes on.${waits}`;
    this.#tell("trouble", status === 0 ? gone : `${body.error || "The change was refused."}${again ? "" : waits}`, again);
  }

  #tell(kind, sentence, again = null) {
    this.trouble = kind === "trouble" && !again;
    this.dispatchEvent(new CustomEvent("told", { detail: { kind, sentence, again } }));
  }
}
