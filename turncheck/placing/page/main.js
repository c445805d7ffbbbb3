// Puts the page together.
import { Desk } from "./desk.js";
import { listenToKeys } from "./keys.js";
import { Lens } from "./lens.js";
import { listLandmarks } from "./list.js";
import { Marks } from "./marks.js";
import { showNews, showPanel } from "./panel.js";
import { listenToPointer } from "./pointing.js";
import { Stage } from "./stage.js";
import { Store } from "./store.js";

const el = (id) => document.getElementById(id);
const NAME = "turncheck placed by";
const LAST = "turncheck landmark"; // the one chosen before the page was loaded again

const store = new Store();
const stage = new Stage(el("stage"), store);
const desk = new Desk(store, stage);
showNews(store, desk);

if (await store.load()) {
  const { character, revision } = store.setting;
  document.title = `${character}, revision ${revision}: placing landmarks`;
  el("character").textContent = character;
  el("revision").textContent = `revision ${revision}`;
  stage.build();
  const marks = new Marks(store, stage, desk);
  const lens = new Lens(el("lens"), store, stage);
  listenToPointer(store, stage, desk, lens);
  listenToKeys(store, stage, desk, lens);
  el("landmarks").open = matchMedia("(min-width: 60rem)").matches;
  listLandmarks(el("list"), store, desk);
  showPanel(store, stage, desk, marks);
  describeViews();
  store.addEventListener("change", describeViews);
  desk.addEventListener("choice", describeViews);

  el("undo").addEventListener("click", () => desk.undo());
  el("redo").addEventListener("click", () => desk.redo());
  el("closer").addEventListener("click", () => stage.zoom(1.4));
  el("farther").addEventListener("click", () => stage.zoom(1 / 1.4));
  el("whole").addEventListener("click", () => stage.whole());
  el("magnify").addEventListener("change", () => { lens.on = el("magnify").checked; lens.hide(); });
  el("show").addEventListener("change", () => { marks.all = el("show").checked; marks.draw(); });
  el("by").value = localStorage.getItem(NAME) ?? "";
  const named = () => { desk.by = el("by").value.trim(); localStorage.setItem(NAME, desk.by); };
  el("by").addEventListener("input", named);
  named();

  addEventListener("pagehide", () => desk.flush());
  document.addEventListener("visibilitychange", () => desk.flush());

  marks.draw();
  const last = sessionStorage.getItem(LAST);
  if (store.landmarkOf.has(last)) desk.choose(last);
  else desk.next(1, true);
  desk.addEventListener("choice", () => sessionStorage.setItem(LAST, desk.chosen ?? ""));
  if (stage.narrow) stage.closeUp(desk.missing(desk.chosen)[0]?.name ?? store.setting.base);
  document.body.dataset.ready = "yes";
}

/** Name each drawing for those who hear the page: what is asked for there, and how to answer. */
function describeViews() {
  for (const view of store.views) {
    const { group } = stage.groups.get(view.name);
    const { mark } = desk;
    const words = mark && store.has(view.name, mark.name) ? store.reading(view.name, mark.name)?.words || "placed" : "not placed";
    group.setAttribute("aria-label", mark
      ? `${view.title}: ${mark.title} ${words}. Arrow keys move the cross, Enter places.`
      : `${view.title}: choose a landmark first.`);
  }
}
