// Around the drawings: which point is up, what is said of it on each drawing, what can be done.
import { el, html, shape } from "./shapes.js";

const percent = (value) => (value < 0.1 ? value.toFixed(2) : value.toPrecision(2));

export function showPanel(store, lineup, desk, camera) {
  const chips = new Map();
  for (const view of store.views) {
    const chip = html("button");
    chip.type = "button";
    chip.dataset.on = view.name;
    chip.addEventListener("click", () => { camera.one(view.name); lineup.root.focus(); });
    el("chips").append(chip);
    chips.set(view.name, chip);
  }

  const does = {
    take: () => desk.accept(), unseen: () => desk.unsee(), next: () => desk.walk(1), previous: () => desk.walk(-1),
    hide: () => desk.hide(), again: () => desk.placeAgain(), remove: () => desk.remove(),
  };
  for (const [id, act] of Object.entries(does)) el(id).addEventListener("click", act);

  function instruction() {
    const { mark, view } = desk;
    if (!mark) return "Every point is placed, or not seen. Click a mark to change it.";
    const on = store.viewOf.get(view).title;
    if (desk.again) return "Place it once more, without looking at the first: the two together tell how sure a placing is.";
    if (!desk.open) return "Drag its mark to move it, or go on.";
    if (desk.isUnseen(view, mark.name)) return "Not seen here. Click it all the same if it is.";
    const where = `${desk.follow ? "" : ` on ${on} or another drawing`}.${desk.isBehind() ? " It is placed as hidden; H if it is seen." : ""}`;
    if (desk.offer) return `Does the dashed square lie right? Enter takes it; else click where the point is${where}`;
    if (store.proposal(view, mark.name)?.doubtful) return `The faint square is a guess too unsure to take. Click where the point is${where}`;
    return mark.name === "ground" ? `Click where the soles stand${where}` : `Click it${where}`;
  }

  function sureness() {
    if (!desk.open) return "";
    const { view } = desk;
    const usual = store.usual(view);
    const sure = desk.sure(view);
    const own = store.setting.placing_sd;
    if (sure <= usual) return `At this zoom a click is as sure as the sheet has it, ${own} % of the figure.`;
    const said = `At this zoom a click is sure to ${percent(own * sure / usual)} % of the figure`;
    return desk.sure(view, Infinity) > usual ? `${said}.` : `${said}; ${Math.max(sure / usual, 1.1).toFixed(1)} times closer, to the sheet's ${own} %.`;
  }

  function draw() {
    const { mark, placing } = desk;
    const on = desk.view ? store.viewOf.get(desk.view).title : "";
    el("what").textContent = mark ? mark.title : "All points are done";
    el("where").textContent = mark && desk.follow ? `on ${on}` : "";
    el("says").textContent = mark?.says ?? "";
    el("do").textContent = instruction();
    el("waiting").textContent = store.readings.waiting;
    for (const view of store.views) tell(view, mark);
    enable(el("take"), desk.offer ? "" : "nothing is proposed here");
    enable(el("unseen"), desk.open && !desk.again ? "" : "it is placed");
    el("unseen").setAttribute("aria-pressed", String(Boolean(mark && desk.open && desk.isUnseen(desk.view, mark.name))));
    el("about").textContent = placing ? desk.title(placing.landmark, placing.view) : "";
    for (const id of ["again", "remove"]) enable(el(id), placing || (id === "again" && desk.again) ? "" : "nothing is placed yet");
    el("up").textContent = mark ? desk.title(mark.name, desk.view) : "";
    enable(el("hide"), mark ? "" : "no point is up");
    el("hide").setAttribute("aria-pressed", String(Boolean(mark && desk.isBehind())));
    el("again").setAttribute("aria-pressed", String(desk.again));
    el("undo").disabled = !store.past.length;
    el("redo").disabled = !store.future.length;
    el("undo").title = store.past.length ? `Take back: ${store.past.at(-1).label}` : "";
    el("redo").title = store.future.length ? `Make again: ${store.future.at(-1).label}` : "";
    el("whole").setAttribute("aria-pressed", String(!desk.follow));
    const all = store.landmarks.length * store.views.length;
    const done = store.landmarks.reduce((sum, m) => sum + store.views.length - desk.missing(m.name).length, 0);
    el("done").textContent = `${done} of ${all} done`;
    el("sure").textContent = sureness();
  }

  /** What is said of the point that is up on a drawing, and how much of the drawing is done. */
  function tell(view, mark) {
    const chip = chips.get(view.name);
    const there = mark ? store.of(view.name, mark.name, desk.by) : [];
    const reading = there.length ? store.reading(view.name, mark.name) : null;
    const verdict = there.length ? reading?.verdict ?? "waiting" : "none";
    const not = mark && desk.isUnseen(view.name, mark.name) ? "not seen" : "not placed";
    const notes = [
      there.some((p) => store.loose(p)) ? "placed too loosely to tell" : "",
      there.some((p) => p.hidden) ? "hidden" : "",
      there.length > 1 ? `mean of ${there.length} placings` : "",
      ...(reading?.notes ?? []),
    ];
    const left = store.landmarks.filter((m) => !desk.settled(view.name, m.name)).length;
    const said = html("span", "said", there.length ? ` ${reading?.words || "placed"}` : mark ? not : "");
    if (there.length) said.prepend(shape(verdict));
    chip.replaceChildren(html("b", "", view.title), " ", html("span", "left", left ? `${left} left` : "done"), " ",
      said, " ", html("small", "", notes.filter(Boolean).join("; ")));
    chip.className = `chip is-${verdict}${desk.view === view.name ? " current" : ""}`;
    if (desk.view === view.name) chip.setAttribute("aria-current", "true");
    else chip.removeAttribute("aria-current");
  }

  function enable(button, why) {
    button.disabled = Boolean(why);
    button.title = why;
  }

  store.addEventListener("change", draw);
  store.addEventListener("readings", draw);
  desk.addEventListener("choice", draw);
  lineup.addEventListener("shown", () => { el("sure").textContent = sureness(); });
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
    if (kind === "saved" && !notice.hidden && !el("retry").hidden) return; // what is to be made again waits for an answer
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
  el("reload").addEventListener("click", async () => { desk.flush(); await store.saved(); location.reload(); });
  el("dismiss").addEventListener("click", () => { notice.hidden = true; });
}
