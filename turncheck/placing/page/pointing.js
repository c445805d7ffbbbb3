// Mouse, pen and fingers: click places, drag moves a mark or the sheet, wheel and pinch zoom.
import { placingOf, proposalOf } from "./marks.js";

const STILL = 5; // screen px within which a press is a click
const STILL_TOUCH = 12;

export function listenToPointer(store, lineup, desk, magnifier) {
  const { root } = lineup;
  const down = new Map();
  let press = null;
  let pinch = null;

  const draggable = (placing) =>
    placing && (placing.landmark === desk.chosen || !desk.chosen || store.has(placing.view, desk.chosen));

  const magnify = (event, view, x, y, landmark) => magnifier.show(view, x, y, event.clientX, event.clientY, landmark);

  root.addEventListener("pointerdown", (event) => {
    if (event.button > 1) return;
    down.set(event.pointerId, event);
    root.setPointerCapture(event.pointerId);
    if (down.size === 2) {
      if (press?.placing && press.moved) desk.drop(press.placing);
      press = null;
      pinch = spread();
      magnifier.hide();
      return;
    }
    const placing = event.button === 0 ? placingOf(store, event.target) : null;
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    press = { x: event.clientX, y: event.clientY, lastX: event.clientX, lastY: event.clientY, moved: false, target: event.target };
    if (draggable(placing)) {
      const [x, y] = lineup.toDrawing(placing.view, wx, wy);
      press.placing = placing;
      press.off = placing.landmark === "ground" ? [0, placing.y - y] : [placing.x - x, placing.y - y];
    }
  });

  root.addEventListener("pointermove", (event) => {
    if (down.has(event.pointerId)) down.set(event.pointerId, event);
    if (pinch && down.size === 2) return turnPinch();
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    if (!press) return hover(event, wx, wy);
    const still = event.pointerType === "touch" ? STILL_TOUCH : STILL;
    if (!press.moved && Math.hypot(event.clientX - press.x, event.clientY - press.y) < still) return;
    if (!press.moved && press.placing) desk.at(press.placing);
    press.moved = true;
    if (press.placing) {
      const { placing } = press;
      const [px, py] = lineup.toDrawing(placing.view, wx, wy);
      const x = placing.landmark === "ground" ? placing.x : px + press.off[0];
      desk.drag(placing, x, py + press.off[1]);
      root.classList.add("moving");
      magnify(event, placing.view, placing.landmark === "ground" ? px : x, py + press.off[1], placing.landmark);
    } else {
      root.classList.add("held");
      lineup.pan(event.clientX - press.lastX, event.clientY - press.lastY);
    }
    press.lastX = event.clientX;
    press.lastY = event.clientY;
  });

  function hover(event, wx, wy) {
    const view = lineup.viewAt(wx, wy);
    root.classList.toggle("armed", Boolean(view && desk.chosen));
    if (!view || !desk.chosen || event.pointerType === "touch") return magnifier.hide();
    magnify(event, view, ...lineup.toDrawing(view, wx, wy), desk.chosen);
  }

  root.addEventListener("pointerup", (event) => {
    down.delete(event.pointerId);
    root.classList.remove("held", "moving");
    if (pinch) {
      if (!down.size) pinch = null;
      return;
    }
    const ended = press;
    press = null;
    if (!ended) return;
    if (ended.moved) {
      if (ended.placing) {
        magnifier.hide();
        desk.drop(ended.placing);
      }
      return;
    }
    if (event.button === 0) click(event, ended);
  });

  function click(event, ended) {
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    const proposal = proposalOf(store, ended.target);
    // a click never moves what it places: Enter takes a proposal as it lies
    if (proposal && !desk.chosen) return desk.choose(proposal.landmark);
    if (ended.placing && !desk.again) return desk.select(ended.placing);
    const view = lineup.viewAt(wx, wy);
    if (!view || !desk.chosen) return undefined;
    const [x, y] = lineup.toDrawing(view, wx, wy);
    return desk.place(view, x, y);
  }

  root.addEventListener("pointercancel", (event) => {
    down.delete(event.pointerId);
    if (press?.placing && press.moved) desk.drop(press.placing);
    press = pinch = null;
    magnifier.hide();
    root.classList.remove("held", "moving");
  });
  root.addEventListener("pointerleave", () => { if (!press) magnifier.hide(); });

  function spread() {
    const [a, b] = [...down.values()];
    return { x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2, apart: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) };
  }

  function turnPinch() {
    const now = spread();
    lineup.pan(now.x - pinch.x, now.y - pinch.y);
    if (pinch.apart > 0 && now.apart > 0) lineup.zoom(now.apart / pinch.apart, now.x, now.y);
    pinch = now;
  }

  root.addEventListener("wheel", (event) => {
    event.preventDefault();
    const step = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
    lineup.zoom(Math.exp(-event.deltaY * step * (event.ctrlKey ? 0.01 : 0.0016)), event.clientX, event.clientY);
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    if (!press) hover(event, wx, wy);
  }, { passive: false });
}
