// The keyboard: everything that the mouse can do. Single letters act only inside the drawings.
import { svg } from "./shapes.js";
import { placingOf, proposalOf } from "./marks.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1], PageUp: [0, -20], PageDown: [0, 20] };

export function listenToKeys(store, lineup, desk, magnifier) {
  const { root } = lineup;
  const cross = svg("path", { class: "crosshair gone", d: "M-22 0H-4M4 0H22M0 -22V-4M0 4V22" });
  lineup.over.append(cross);
  let at = null; // the view whose crosshair shows

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
    if (!event.target.matches(":focus-visible")) return;
    const view = viewOf(event.target);
    const placing = placingOf(store, event.target);
    if (view) point(view);
    if (placing) desk.at(placing);
    const spot = placing ? store.at(placing) : view && desk.chosen ? desk.spot(view) : null;
    if (spot && placing?.landmark !== "ground") lineup.bringBack(...lineup.toWorld(view ?? placing.view, spot.x, spot.y));
  });
  root.addEventListener("focusout", () => { desk.flush(); point(null); });
  root.addEventListener("pointerdown", () => { cross.classList.add("gone"); at = null; });
  lineup.addEventListener("shown", () => { if (at) point(at); });
  desk.addEventListener("choice", () => { if (at) point(at); });
  store.addEventListener("change", () => { if (at) point(at); });

  root.addEventListener("keydown", (event) => {
    const placing = placingOf(store, event.target);
    const proposal = proposalOf(store, event.target);
    const view = viewOf(event.target) ?? placing?.view ?? proposal?.view;
    if (placing) desk.at(placing);
    if (!view || !act(event, { placing, proposal, view })) return;
    event.preventDefault();
    event.stopPropagation();
  });

  function act(event, { placing, proposal, view }) {
    const way = ARROWS[event.key];
    if (way && !event.altKey) {
      const [dx, dy] = way.map((value) => value * step(event));
      if (placing) {
        desk.nudge(placing, placing.landmark === "ground" ? 0 : dx, dy);
        const moved = store.at(placing);
        const [wx, wy] = lineup.toWorld(view, moved.x, moved.y);
        lineup.reveal(wx, wy);
        magnifier.show(view, moved.x, moved.y, ...lineup.toScreen(wx, wy), placing.landmark);
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
    const letter = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const does = {
      Enter: () => (proposal ? desk.accept(proposal) : placing ? settle(placing) : place(view)),
      " ": () => (proposal ? desk.accept(proposal) : placing ? settle(placing) : place(view)),
      Delete: () => placing && desk.remove(),
      Backspace: () => placing && desk.remove(),
      Escape: () => { desk.again = false; lineup.groups.get(view).group.focus(); desk.dispatchEvent(new Event("choice")); },
      h: () => desk.hide(),
      m: () => desk.mirror(),
      r: () => desk.placeAgain(),
      n: () => desk.next(1),
      p: () => desk.next(-1),
      "+": () => zoomAt(view, placing, 1.25),
      "=": () => zoomAt(view, placing, 1.25),
      "-": () => zoomAt(view, placing, 0.8),
      0: () => lineup.whole(),
      c: () => lineup.closeUp(view, placing ? store.at(placing) : desk.chosen ? desk.spot(view) : null),
    }[letter];
    if (!does) return false;
    does();
    return true;
  }

  function settle(placing) {
    desk.select(placing);
    return desk.confirm();
  }

  async function place(view) {
    if (!desk.chosen) return;
    const spot = desk.spot(view);
    await desk.place(view, spot.x, spot.y);
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
