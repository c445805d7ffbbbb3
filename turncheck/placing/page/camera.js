// Goes where the next point is expected, and stays there for all points of a part.

const PAD = 0.18; // beside the part's points, of their width and height
const LEAST = 0.22; // of the drawing that is shown at least, along each way
// chosen by looking at the samples; they have no other source

export function followPoints(store, lineup, desk) {
  let at = "";

  /** What to show of a drawing for a part: where its points are expected, or all of it. */
  function area(view, part) {
    const spots = store.landmarks.filter((mark) => mark.part === part && !desk.isUnseen(view, mark.name))
      .map((mark) => desk.expected(view, mark.name)).filter(Boolean);
    if (spots.length < 2) return null;
    const [left, top, right, bottom] = store.viewOf.get(view).crop;
    const least = LEAST * (bottom - top);
    const [l, r] = span(spots.map(({ x }) => x), least);
    const [t, b] = span(spots.map(({ y }) => y), least);
    return [Math.max(l, left), Math.max(t, top), Math.min(r, right), Math.min(b, bottom)];
  }

  function span(values, least) {
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const half = Math.max((0.5 + PAD) * (high - low), least / 2);
    return [(low + high) / 2 - half, (low + high) / 2 + half];
  }

  function look() {
    if (!desk.follow || !desk.chosen) return;
    const now = JSON.stringify([desk.view, desk.mark.part]);
    const spot = desk.expected(desk.view, desk.chosen);
    if (now === at && (!spot || lineup.inSight(...lineup.toWorld(desk.view, spot.x, spot.y)))) return;
    at = now;
    lineup.closeUp(desk.view, area(desk.view, desk.mark.part));
  }

  desk.addEventListener("choice", look);
  return {
    look() { at = ""; look(); },
    /** Show all drawings, or go back to one after another. */
    all() { desk.follow = false; lineup.whole(); desk.dispatchEvent(new Event("choice")); },
    one(view = desk.view) {
      desk.follow = true;
      at = "";
      if (view === desk.view) desk.choose(desk.chosen, view);
      else {
        desk.view = view;
        if (!desk.chosen || desk.settled(view, desk.chosen)) desk.advance(true);
        else desk.choose(desk.chosen, view);
      }
      if (!desk.chosen) lineup.closeUp(view);
    },
  };
}
