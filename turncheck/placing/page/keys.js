// The keyboard: everything that the mouse can do. Single letters act only inside the drawings.
import { svg } from "./shapes.js";
import { placingOf, proposalOf } from "./marks.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1], PageUp: [0, -20], PageDown: [0, 20] };

export function listenToKeys(store, lineup, desk, { magnifier, camera, marks }) {
  const { root } = lineup;
  const cross = svg("path", { class: "crosshair gone", d: "M-22 0H-4M4 0H22M0 -22V-4M0 4V22" });
  lineup.over.append(cross);
  let at = null; // the drawing whose cross shows
  let given = false; // the focus moves by itself

  function point(view) {
    at = view;
    const spot = view && desk.chosen ? desk.spot(view) : null;
    cross.classList.toggle("gone", !spot);
    if (!spot) return magnifier.hide();
    const [wx, wy] = lineup.toWorld(view, spot.x, spot.y);
    cross.setAttribute("transform", `translate(${wx} ${wy}) scale(${lineup.unit})`);
    return magnifier.show(view, spot.x, spot.y, ...lineup.toScreen(wx, wy), desk.chosen);
  }

  const viewOf = (element) => element.closest?.(".drawing")?.dataset.view;
  const step = (event) => (event.shiftKey ? 0.1 : event.ctrlKey || event.metaKey ? 20 : 1);

  root.addEventListener("focusin", (event) => {
    if (given || !event.target.matches(":focus-visible")) return;
    const view = viewOf(event.target);
    const placing = placingOf(store, event.target);
    if (placing) desk.at(placing);
    if (view && view !== desk.view && desk.chosen) desk.choose(desk.chosen, view);
    if (view) point(view);
    const spot = placing ? store.at(placing) : view && desk.chosen ? desk.spot(view) : null;
    if (spot && placing?.landmark !== "ground") lineup.bringBack(...lineup.toWorld(view ?? placing.view, spot.x, spot.y));
  });
  root.addEventListener("focusout", () => { desk.flush(); point(null); });
  root.addEventListener("pointerdown", () => { cross.classList.add("gone"); at = null; });
  lineup.addEventListener("shown", () => { if (at) point(at); });
  desk.addEventListener("choice", () => {
    const { activeElement } = document;
    // the cross goes with the point that is up
    if (at && at !== desk.view && viewOf(activeElement)) lineup.groups.get(desk.view).group.focus();
    else if (at) point(at);
  });
  store.addEventListener("change", () => { if (at) point(at); });
  // what was placed by the mouse, or taken, is in hand; the keyboard's cross goes on to the next
  desk.addEventListener("placed", ({ detail }) => {
    given = true; // the page has gone on to the next point and does not come back for it
    if (!at) marks.element(detail)?.focus({ preventScroll: true });
    given = false;
  });

  root.addEventListener("keydown", (event) => {
    const placing = placingOf(store, event.target);
    const proposal = proposalOf(store, event.target);
    const view = viewOf(event.target) ?? placing?.view ?? proposal?.view ?? desk.view;
    if (!act(event, { placing, proposal, view })) return;
    event.preventDefault();
    event.stopPropagation();
  });

  function act(event, { placing, proposal, view }) {
    const way = ARROWS[event.key];
    if (way && !event.altKey) {
      const [dx, dy] = way.map((value) => value * step(event));
      if (placing) {
        desk.at(placing);
        const moved = store.at(placing);
        const [wx, wy] = lineup.toWorld(view, moved.x + dx, moved.y + dy);
        lineup.reveal(wx, wy);
        magnifier.show(view, moved.x + dx, moved.y + dy, ...lineup.toScreen(wx, wy), placing.landmark);
        desk.nudge(placing, placing.landmark === "ground" ? 0 : dx, dy, magnifier.scale(view));
      } else if (desk.chosen && !proposal) {
        const spot = desk.spot(view);
        const { width, height } = store.viewOf.get(view);
        desk.spots.set(view, { x: Math.min(Math.max(spot.x + dx, 0), width - 1), y: Math.min(Math.max(spot.y + dy, -0.5), height - 0.5) });
        lineup.reveal(...lineup.toWorld(view, ...Object.values(desk.spot(view))));
        point(view);
      }
      return true;
    }
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const does = {
      Enter: () => enter(placing, proposal, view),
      t: () => desk.accept(),
      x: () => desk.unsee(),
      Delete: () => desk.remove(),
      Backspace: () => desk.remove(),
      Escape: () => { if (desk.again) desk.placeAgain(); lineup.groups.get(view).group.focus(); },
      h: () => desk.hide(),
      r: () => desk.placeAgain(),
      n: () => desk.walk(1),
      p: () => desk.walk(-1),
      "+": () => zoomAt(view, placing, 1.25),
      "=": () => zoomAt(view, placing, 1.25),
      "-": () => zoomAt(view, placing, 0.8),
      0: () => camera.all(),
      c: () => camera.one(view),
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!does) return false;
    does();
    return true;
  }

  /** Take what is proposed, or place at the cross where the keys moved it; nothing moves. */
  function enter(placing, proposal, view) {
    if (proposal) return desk.accept(proposal);
    if (placing && placing !== desk.placing) return desk.select(placing);
    if (placing || !desk.spots.has(view)) return desk.accept();
    const { x, y } = desk.spot(view);
    return desk.place(view, x, y, desk.sure(view, magnifier.scale(view)));
  }

  function zoomAt(view, placing, factor) {
    const spot = placing ? store.at(placing) : desk.chosen ? desk.spot(view) : null;
    lineup.zoom(factor, ...(spot ? lineup.toScreen(...lineup.toWorld(view, spot.x, spot.y)) : []));
  }

  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || event.target.matches("input")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) desk.undo();
    else if (key === "y" || (key === "z" && event.shiftKey)) desk.redo();
    else return;
    event.preventDefault();
  });
}
