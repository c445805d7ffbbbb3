// Puts the page together.
import { followPoints } from "./camera.js";
import { Desk } from "./desk.js";
import { listenToKeys } from "./keys.js";
import { lettersLoaded } from "./lettering.js";
import { LineUp } from "./lineup.js";
import { listLandmarks } from "./list.js";
import { Magnifier } from "./magnifier.js";
import { Marks } from "./marks.js";
import { listenToOwnPoints } from "./own.js";
import { showNews, showPanel } from "./panel.js";
import { listenToPointer } from "./pointing.js";
import { post } from "./server.js";
import { el } from "./shapes.js";
import { Store } from "./store.js";

const LAST = "turncheck point"; // the one that was up before the page was loaded again

const store = new Store();
const lineup = new LineUp(el("lineup"), store);
const desk = new Desk(store, lineup);
showNews(store, desk);

if (await store.load()) {
  const { character, revision, by } = store.setting;
  document.title = `${character}, revision ${revision}: placing points`;
  el("character").textContent = character;
  el("revision").textContent = `revision ${revision}`;
  await lettersLoaded();
  lineup.build();
  desk.begin();
  const marks = new Marks(store, lineup, desk);
  const magnifier = new Magnifier(el("magnifier"), store, lineup);
  const camera = followPoints(store, lineup, desk);
  listenToPointer(store, lineup, desk, magnifier, camera);
  listenToKeys(store, lineup, desk, { magnifier, camera, marks });
  const showList = listLandmarks(el("rows"), store, desk);
  listenToOwnPoints(store, desk);
  showPanel(store, lineup, desk, camera);
  describeViews();
  store.addEventListener("change", describeViews);
  desk.addEventListener("choice", describeViews);

  el("undo").addEventListener("click", () => desk.undo());
  el("redo").addEventListener("click", () => desk.redo());
  el("closer").addEventListener("click", () => lineup.zoom(1.4));
  el("farther").addEventListener("click", () => lineup.zoom(1 / 1.4));
  el("whole").addEventListener("click", () => (desk.follow ? camera.all() : camera.one()));
  el("magnify").addEventListener("change", () => { magnifier.on = el("magnify").checked; magnifier.hide(); });
  el("points").addEventListener("click", () => {
    el("list").hidden = !el("list").hidden;
    showList();
    el("points").setAttribute("aria-expanded", String(!el("list").hidden));
  });
  desk.by = by;
  el("by").value = by;
  el("by").addEventListener("input", () => { desk.by = el("by").value.trim(); });
  el("by").addEventListener("change", () => post("person", { by: desk.by }));

  addEventListener("pagehide", () => desk.flush());
  document.addEventListener("visibilitychange", () => desk.flush());

  const last = JSON.parse(sessionStorage.getItem(LAST) ?? "[]");
  if (store.landmarkOf.has(last[0]) && store.viewOf.has(last[1])) desk.choose(...last);
  desk.addEventListener("choice", () => sessionStorage.setItem(LAST, JSON.stringify([desk.chosen, desk.view])));
  marks.draw();
  camera.look();
  lineup.root.focus({ preventScroll: true });
  document.body.dataset.ready = "yes";
}

/** Name each drawing for those who hear the page: what is asked for there, and how to answer. */
function describeViews() {
  for (const view of store.views) {
    const { group } = lineup.groups.get(view.name);
    const { mark } = desk;
    const words = mark && store.has(view.name, mark.name) ? store.reading(view.name, mark.name)?.words || "placed" : "not placed";
    group.setAttribute("aria-label", mark
      ? `${view.title}: ${mark.title} ${words}${desk.isBehind(view.name) ? ", hidden behind a part" : ""}. Arrow keys move the cross, Enter places.`
      : `${view.title}: every point is done.`);
  }
}
