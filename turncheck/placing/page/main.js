// Puts the page together.
import { Desk } from "./desk.js";
import { listenToKeys } from "./keys.js";
import { lettersLoaded } from "./lettering.js";
import { LineUp } from "./lineup.js";
import { listLandmarks } from "./list.js";
import { Magnifier } from "./magnifier.js";
import { Marks } from "./marks.js";
import { showNews, showPanel } from "./panel.js";
import { listenToPointer } from "./pointing.js";
import { Store } from "./store.js";

const el = (id) => document.getElementById(id);
const NAME = "turncheck placed by";
const LAST = "turncheck landmark"; // the one chosen before the page was loaded again

const store = new Store();
const lineup = new LineUp(el("lineup"), store);
const desk = new Desk(store, lineup);
showNews(store, desk);

if (await store.load()) {
  const { character, revision } = store.setting;
  document.title = `${character}, revision ${revision}: placing landmarks`;
  el("character").textContent = character;
  el("revision").textContent = `revision ${revision}`;
  await lettersLoaded();
  lineup.build();
  const marks = new Marks(store, lineup, desk);
  const magnifier = new Magnifier(el("magnifier"), store, lineup);
  listenToPointer(store, lineup, desk, magnifier);
  listenToKeys(store, lineup, desk, magnifier);
  el("landmarks").open = matchMedia("(min-width: 60rem)").matches;
  listLandmarks(el("list"), store, desk);
  showPanel(store, lineup, desk, marks);
  describeViews();
  store.addEventListener("change", describeViews);
  desk.addEventListener("choice", describeViews);

  el("undo").addEventListener("click", () => desk.undo());
  el("redo").addEventListener("click", () => desk.redo());
  el("closer").addEventListener("click", () => lineup.zoom(1.4));
  el("farther").addEventListener("click", () => lineup.zoom(1 / 1.4));
  el("whole").addEventListener("click", () => lineup.whole());
  el("magnify").addEventListener("change", () => { magnifier.on = el("magnify").checked; magnifier.hide(); });
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
  if (lineup.narrow) lineup.closeUp(desk.missing(desk.chosen)[0]?.name ?? store.setting.base);
  document.body.dataset.ready = "yes";
}

/** Name each drawing for those who hear the page: what is asked for there, and how to answer. */
function describeViews() {
  for (const view of store.views) {
    const { group } = lineup.groups.get(view.name);
    const { mark } = desk;
    const words = mark && store.has(view.name, mark.name) ? store.reading(view.name, mark.name)?.words || "placed" : "not placed";
    group.setAttribute("aria-label", mark
      ? `${view.title}: ${mark.title} ${words}. Arrow keys move the cross, Enter places.`
      : `${view.title}: choose a landmark first.`);
  }
}
