// The placings as they are on disk, every change to them, and the way back.
import { get, post } from "./server.js";

const LOOK_EVERY = 2500; // ms between looks at whether the file was changed elsewhere
export const keyOf = (p) => JSON.stringify([p.view, p.landmark, p.by]);

const same = (a, b) => a.x === b.x && a.y === b.y && a.hidden === b.hidden;
const round = (value) => Math.round(value * 100) / 100;

export class Store extends EventTarget {
  placings = new Map(); // by keyOf, in the file's order
  readings = { scales: {}, of: [], lines: {}, midlines: {}, waiting: "" };
  proposals = [];
  draft = new Map(); // where a mark is while it is moved, before it is saved
  past = [];
  future = [];
  hash = "";
  stale = false; // the sheet or a drawing was saved since the page was loaded
  #queue = Promise.resolve();
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
    return true;
  }

  reading(view, landmark) { return this.#readings.get(JSON.stringify([view, landmark])); }

  /** Placings of one landmark on one view; the one by `by` first, then the file's order. */
  of(view, landmark, by = "") {
    const found = [...this.placings.values()].filter((p) => p.view === view && p.landmark === landmark);
    return found.sort((a, b) => (b.by === by) - (a.by === by));
  }

  /** Whether a placing is a proposal that nobody has looked at yet, or placed as loosely. */
  loose(placing) { return placing.sd !== null && placing.sd >= (this.readings.loose_from ?? Infinity); }

  has(view, landmark) { return this.#there.has(JSON.stringify([view, landmark])); }

  proposal(view, landmark) { return this.proposals.find((p) => p.view === view && p.landmark === landmark); }

  /** Where a placing is now, counting a move that is not saved yet. */
  at(placing) { return { ...placing, ...this.draft.get(keyOf(placing)) }; }

  /** Make a change and save it. `label` is what undo says, such as "left knee on side". */
  make(label, steps) {
    const rounded = steps.map((step) => (step.delete ? step : { ...step, x: round(step.x), y: round(step.y) }));
    return this.#enqueue(() => this.#save(label, rounded, (entry) => { this.past.push(entry); this.future = []; }));
  }

  undo() { return this.#step(this.past, this.future, "back", "steps"); }
  redo() { return this.#step(this.future, this.past, "steps", "back"); }

  /** Ask what would be said of placings while they are moved; only the newest question counts. */
  attempt(steps) {
    this.#next = steps;
    if (!this.#trying) this.#try();
  }

  /** See whether the file was changed elsewhere, and show the newer one. */
  look() {
    return this.#enqueue(async () => {
      if (this.draft.size) return true; // no notice pushes the paper away under a mark that is moved
      const { status, body } = await get("hash");
      this.#heed(body);
      if (status !== 200) return this.#fail(status, body);
      if (body.hash !== this.hash) {
        const newer = await get("state");
        if (newer.status !== 200) return this.#fail(newer.status, newer.body);
        this.#adopt(newer.body);
        this.#tell("elsewhere", `${this.setting.file} was changed elsewhere; this is the newer one.`);
      } else if (this.trouble) this.#tell("mended", "");
      return true;
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

  #enqueue(work) {
    this.#queue = this.#queue.then(work, work);
    return this.#queue;
  }

  #step(from, to, doing, undoing) {
    return this.#enqueue(async () => {
      const entry = from.at(-1);
      if (!entry) return false;
      const stands = entry[undoing].every((step) => {
        const now = this.placings.get(keyOf(step));
        return step.delete ? !now : now && same(now, step);
      });
      if (!stands) {
        from.pop();
        this.#tell("refused", `${entry.label} was changed elsewhere since, so that step was left out.`);
        return false;
      }
      return this.#save(entry.label, entry[doing], () => to.push(from.pop()));
    });
  }

  async #save(label, steps, kept) {
    const back = steps.map((step) => {
      const before = this.placings.get(keyOf(step));
      return before ?? { view: step.view, landmark: step.landmark, by: step.by, delete: true };
    }).reverse();
    const { status, body } = await post("change", { base: this.hash, steps });
    this.#heed(body);
    for (const step of steps) this.draft.delete(keyOf(step));
    if (status === 200) {
      kept({ label, steps, back });
      this.#adopt(body);
      this.#tell("saved", label);
      return true;
    }
    if (status === 409) {
      this.#adopt(body.state);
      this.#tell("conflict", `${this.setting.file} was changed elsewhere; this is the newer one. `
        + `Your change to ${label} was not saved.`, () => this.make(label, steps));
      return false;
    }
    this.#fail(status, body, () => this.make(label, steps));
    this.dispatchEvent(new Event("change"));
    return false;
  }

  #readings = new Map();
  #there = new Set();

  #index(rows) { for (const row of rows) this.#readings.set(JSON.stringify([row.view, row.landmark]), row); }

  #adopt(state) {
    this.hash = state.hash;
    this.placings = new Map(state.placings.map((p) => [keyOf(p), p]));
    this.#there = new Set(state.placings.map((p) => JSON.stringify([p.view, p.landmark])));
    this.readings = state.readings;
    this.#readings = new Map();
    this.#index(state.readings.of);
    this.dispatchEvent(new Event("change"));
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.#propose(), 60);
  }

  /** See from an answer whether the sheet or a drawing was saved since the page was loaded. */
  #heed({ stamp }) {
    if (stamp === undefined) return;
    this.stale = stamp !== this.setting.stamp;
    this.dispatchEvent(new Event("stale"));
  }

  async #propose() {
    const asked = this.hash;
    const { status, body } = await get("proposals");
    if (status !== 200 || asked !== this.hash) return; // those of a table that has changed since are asked for anew
    this.proposals = body.filter((p) => !this.has(p.view, p.landmark));
    this.dispatchEvent(new Event("change"));
  }

  #fail(status, body, again) {
    const gone = "turncheck has ended, so nothing more is saved. All that was placed before is in landmarks.csv: "
      + "start turncheck mark again and use the page that it opens.";
    this.#tell("trouble", status === 0 ? gone : body.error || "The change was refused.", status === 0 ? null : again);
    return false;
  }

  #tell(kind, sentence, again = null) {
    this.trouble = kind === "trouble";
    this.dispatchEvent(new CustomEvent("told", { detail: { kind, sentence, again } }));
  }
}
