// Goes where the next point is expected, and stays there for all points of a part.

const PAD = 0.18; // beside the part's points, of their width and height
const LEAST = 0.22; // of the drawing that is shown at least, along each way
const FEET = 0.3; // of the drawing that is shown for the ground
// chosen by looking at the samples; they have no other source

export function followPoints(store, lineup, desk) {
  let at = "";

  /** What to show of a drawing for the points of a group: where they are expected, or all of it. */
  function area(view, { group, name }) {
    const marks = store.landmarks.filter((mark) => mark.group === group && mark.name !== "ground");
    const [left, top, right, bottom] = store.viewOf.get(view).crop;
    if (name === "ground") return [left, bottom - FEET * (bottom - top), right, bottom];
    const wide = [left, right].map((x) => ({ x }));
    let spots = marks.filter((mark) => !desk.isUnseen(view, mark.name)).map((mark) => desk.expected(view, mark.name)).filter(Boolean);
    const [ground, chin] = ["ground", "chin"].map((mark) => store.of(view, mark)[0]?.y);
    if (spots.length < marks.length / 2) {
      const rows = marks.filter((mark) => mark.level !== null).map((mark) => ({ y: ground - mark.level * (ground - chin) }));
      if (chin !== undefined && ground !== undefined && rows.length > 1) spots = [...spots, ...rows, ...wide];
      else if (spots.length < 3) return null;
    }
    if (spots.length < 2) return null;
    const least = LEAST * (bottom - top);
    const [l, r] = span(spots.map(({ x }) => x), least);
    const [t, b] = span(spots.map(({ y }) => y), least);
    return [Math.max(l, left), Math.max(t, top), Math.min(r, right), Math.min(b, bottom)];
  }

  function span(all, least) {
    const values = all.filter(Number.isFinite);
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const half = Math.max((0.5 + PAD) * (high - low), least / 2);
    return [(low + high) / 2 - half, (low + high) / 2 + half];
  }

  function look() {
    if (!desk.follow || !desk.chosen) return;
    const now = JSON.stringify([desk.view, desk.mark.name === "ground" || desk.mark.group]);
    const spot = desk.expected(desk.view, desk.chosen);
    if (now === at && (!spot || lineup.inSight(...lineup.toWorld(desk.view, spot.x, spot.y)))) return;
    at = now;
    lineup.closeUp(desk.view, area(desk.view, desk.mark));
  }

  desk.addEventListener("choice", look);
  return {
    look() { at = ""; look(); },
    /** Show all drawings, or go back to one after another. */
    all() { desk.follow = false; lineup.whole(); desk.dispatchEvent(new Event("choice")); },
    one(view = desk.view) {
      desk.follow = true;
      at = "";
      const goesOn = view !== desk.view && desk.open && (!desk.picked || desk.settled(view, desk.chosen));
      desk.choose(goesOn ? null : desk.chosen, view);
      if (!desk.chosen) desk.advance(true);
      if (!desk.chosen) lineup.closeUp(view);
    },
  };
}
