// Under the drawings: what to do now, what is said of each view, and what can be done with it.
import { shape } from "./shapes.js";
import { keyOf } from "./store.js";

const el = (id) => document.getElementById(id);

export function showPanel(store, lineup, desk, marks) {
  const chips = new Map();
  for (const view of store.views) {
    const chip = document.createElement("button");
    chip.type = "button";
    chip.className = "chip";
    chip.addEventListener("click", () => {
      const placing = desk.chosen ? store.of(view.name, desk.chosen, desk.by)[0] : null;
      if (placing) desk.select(placing);
      else desk.choose(desk.chosen, view.name);
      lineup.closeUp(view.name, placing ?? (desk.chosen ? desk.spot(view.name) : null));
      (placing ? marks.element(keyOf(placing)) : lineup.groups.get(view.name).group).focus();
    });
    el("chips").append(chip);
    chips.set(view.name, chip);
  }

  const does = {
    hide: () => desk.hide(), mirror: () => desk.mirror(), again: () => desk.placeAgain(), remove: () => desk.remove(),
    confirm: () => desk.confirm(),
    next: () => desk.next(1), previous: () => desk.next(-1),
  };
  for (const [id, act] of Object.entries(does)) el(id).addEventListener("click", act);

  const listed = (names) => (names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`);

  const where = (views) => listed(views.map((view) => view.title));

  function instruction() {
    const { mark } = desk;
    if (!mark) {
      const left = store.landmarks.filter((m) => desk.missing(m.name).length).length;
      return left ? "Choose a landmark from the list." : "Every landmark is placed on every drawing.";
    }
    if (desk.again) return `Place it once more on any drawing, without looking at the first: the two together tell how sure a placing is.`;
    const missing = desk.missing(mark.name);
    if (!missing.length) return "Placed on every drawing. Drag a mark to move it.";
    const first = missing.length === store.views.length;
    if (mark.name === "ground") return `Click where the soles stand, on ${first ? "every drawing" : where(missing)}.`;
    const place = first ? "any drawing; its height is then ruled across the others" : where(missing);
    return `Click it on ${place}.`;
  }

  function draw() {
    const { mark, placing } = desk;
    el("what").textContent = mark ? mark.title : "No landmark chosen";
    el("says").textContent = mark?.says ?? "";
    el("do").textContent = instruction();
    el("waiting").textContent = store.readings.waiting;
    el("waiting").hidden = !store.readings.waiting;
    const names = new Set();
    for (const view of store.views) {
      const chip = chips.get(view.name);
      const reading = mark ? store.reading(view.name, mark.name) : null;
      const there = mark ? store.of(view.name, mark.name, desk.by) : [];
      const words = there.length ? reading?.words || "placed" : mark ? "not placed" : "";
      const verdict = there.length ? reading?.verdict ?? "waiting" : "none";
      const notes = [
        there.some((p) => store.loose(p)) ? "accepted unseen: drag it to where it is drawn" : "",
        there.some((p) => p.hidden) ? "hidden" : "",
        there.length > 1 ? `mean of ${there.length} placings` : "",
        ...(there.length ? reading?.notes ?? [] : []),
      ];
      const title = document.createElement("b");
      title.textContent = view.title;
      const said = document.createElement("span");
      said.className = "said";
      if (there.length) said.append(shape(verdict), " ");
      said.append(words);
      const small = document.createElement("small");
      small.textContent = notes.filter(Boolean).join("; ");
      const told = document.createElement("span");
      told.append(" ", said, " ", small);
      chip.replaceChildren(title, told);
      chip.className = `chip is-${verdict}${placing?.view === view.name ? " current" : ""}`;
      if (placing?.view === view.name) chip.setAttribute("aria-current", "true");
      else chip.removeAttribute("aria-current");
      names.add(view.name);
    }
    const on = placing ? ` on ${store.viewOf.get(placing.view).title}` : "";
    el("about").textContent = placing ? `${store.landmarkOf.get(placing.landmark).title}${on}` : "Choose a placing to change it";
    el("confirm").hidden = !placing || !store.loose(placing);
    enable(el("hide"), placing ? "" : "nothing is placed here");
    el("hide").setAttribute("aria-pressed", String(Boolean(placing?.hidden)));
    enable(el("mirror"), desk.noMirror);
    const side = mark?.name.endsWith("_r") ? "left" : "right";
    el("mirror").textContent = mark?.twin ? `Copy to the ${side}` : "Copy to the other side";
    enable(el("again"), placing || desk.again ? "" : "nothing is placed here");
    el("again").setAttribute("aria-pressed", String(desk.again));
    enable(el("remove"), placing ? "" : "nothing is placed here");
    el("undo").disabled = !store.past.length;
    el("redo").disabled = !store.future.length;
    el("undo").title = store.past.length ? `Take back: ${store.past.at(-1).label}` : "";
    el("redo").title = store.future.length ? `Make again: ${store.future.at(-1).label}` : "";
    offers();
    const all = store.landmarks.length * store.views.length;
    const done = store.landmarks.reduce((sum, m) => sum + store.views.length - desk.missing(m.name).length, 0);
    el("done").textContent = `${done} of ${all} placed`;
  }

  function enable(button, why) {
    button.disabled = Boolean(why);
    button.title = why;
  }

  function offers() {
    const count = (view) => store.proposals.filter((p) => p.view === view.name && !p.doubtful).length;
    const held = document.activeElement?.dataset?.offers;
    el("offers").replaceChildren(...store.views.filter(count).map((view) => {
      const button = document.createElement("button");
      button.type = "button";
      button.dataset.offers = view.name;
      button.textContent = `Accept ${count(view)} on ${view.title}`;
      button.addEventListener("click", () => desk.acceptAll(view.name));
      return button;
    }));
    if (held) (el("offers").querySelector("button") ?? el("show")).focus();
    el("none").hidden = Boolean(el("offers").children.length);
  }

  store.addEventListener("change", draw);
  store.addEventListener("readings", draw);
  desk.addEventListener("choice", draw);
  draw();
}

/** The line that says what was saved, and the notice that asks for something. */
export function showNews(store, desk) {
  const saved = el("saved");
  const notice = el("notice");
  store.addEventListener("told", ({ detail: { kind, sentence, again } }) => {
    if (kind === "saved") {
      const { placing } = desk;
      const words = placing ? store.reading(placing.view, placing.landmark)?.words : "";
      saved.textContent = `Saved: ${sentence}${words && sentence === desk.title(placing.landmark, placing.view) ? `, ${words}` : ""}.`;
    }
    if (kind === "saved" || kind === "mended") {
      el("news").textContent = "";
      notice.hidden = true;
      return;
    }
    if (el("news").textContent === sentence && kind === "trouble" && !again) return; // said already, maybe closed
    el("news").textContent = sentence;
    notice.hidden = false;
    const button = el("retry");
    button.hidden = !again;
    button.onclick = again ? () => { notice.hidden = true; again(); } : null;
  });
  store.addEventListener("stale", () => { el("stale").hidden = !store.stale; });
  el("reload").addEventListener("click", async () => { await desk.flush(); location.reload(); });
  el("dismiss").addEventListener("click", () => { notice.hidden = true; });
}
