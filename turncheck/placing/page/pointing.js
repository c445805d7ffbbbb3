// Mouse, pen and fingers: a click places, a drag moves a mark or the paper, the wheel moves the
// paper, with Ctrl it zooms as a pinch does; with the space bar held a drag moves the paper alone.
import { placingOf } from "./marks.js";

const STILL = 5; // screen px within which a press is a click
const STILL_TOUCH = 12;
const HELD = 300; // ms after which a finger at rest aims through the lens
const TWICE = 400; // ms within which a second click on the spot is a double click

export function listenToPointer(store, lineup, desk, magnifier, camera) {
  const { root } = lineup;
  const down = new Map();
  let press = null;
  let pinch = null;
  let space = false;
  let last = { at: -Infinity, x: 0, y: 0 };

  /** A mark can be moved where no other point is still to be placed, and the one last worked on. */
  const draggable = (placing) => placing && !space
    && (!desk.open || placing.landmark === desk.chosen || placing === desk.placing);

  const magnify = (event, view, x, y, landmark) => magnifier.show(view, x, y, event.clientX, event.clientY, landmark);

  root.addEventListener("pointerdown", (event) => {
    if (event.button > 1) return;
    down.set(event.pointerId, event);
    root.setPointerCapture(event.pointerId);
    if (down.size === 2) {
      giveUp();
      pinch = spread();
      return;
    }
    const placing = event.button === 0 ? placingOf(store, event.target) : null;
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    press = { x: event.clientX, y: event.clientY, lastX: event.clientX, lastY: event.clientY, moved: false };
    if (draggable(placing)) {
      const [x, y] = lineup.toDrawing(placing.view, wx, wy);
      press.placing = placing;
      press.off = placing.landmark === "ground" ? [0, placing.y - y] : [placing.x - x, placing.y - y];
    } else if (event.pointerType === "touch") {
      const begun = press;
      press.timer = setTimeout(() => { if (press === begun && !begun.moved) { begun.aims = true; hover(event, wx, wy); } }, HELD);
    }
  });

  root.addEventListener("pointermove", (event) => {
    if (down.has(event.pointerId)) down.set(event.pointerId, event);
    if (pinch && down.size === 2) return turnPinch();
    const [wx, wy] = lineup.fromScreen(event.clientX, event.clientY);
    if (!press || press.aims) return hover(event, wx, wy);
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
    root.classList.toggle("armed", Boolean(view && desk.open && !space));
    if (!view || !desk.open || (event.pointerType === "touch" && !press?.aims)) return magnifier.hide();
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
    clearTimeout(ended.timer);
    if (ended.aims || (ended.moved && ended.placing)) magnifier.hide();
    if (ended.moved) {
      if (ended.placing) desk.drop(ended.placing);
    } else if (event.button === 0 && !space) click(event, ended);
  });

  function click(event, { placing }) {
    const { clientX: x, clientY: y, timeStamp: at } = event;
    const twice = at - last.at < TWICE && Math.hypot(x - last.x, y - last.y) < STILL;
    last = { at, x, y };
    if (twice) return undefined;
    const view = lineup.viewAt(...lineup.fromScreen(x, y));
    if (placing && !desk.open) return desk.select(placing);
    if (!view || !desk.chosen) return undefined;
    if (desk.follow && view !== desk.view && !desk.again) return camera.one(view);
    if (store.has(view, desk.chosen) && !desk.again) return desk.select(store.of(view, desk.chosen, desk.by)[0]);
    return desk.place(view, ...lineup.toDrawing(view, ...lineup.fromScreen(x, y)));
  }

  root.addEventListener("pointercancel", (event) => {
    down.delete(event.pointerId);
    giveUp();
    pinch = null;
    root.classList.remove("held", "moving");
  });

  /** End a press that becomes something else; what was moved stays where it is. */
  function giveUp() {
    if (press?.placing && press.moved) desk.drop(press.placing);
    clearTimeout(press?.timer);
    press = null;
    magnifier.hide();
  }

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
    const [dx, dy] = [event.deltaX * step, event.deltaY * step];
    if (event.ctrlKey || event.metaKey) lineup.zoom(Math.exp(-dy * 0.0025), event.clientX, event.clientY);
    else lineup.pan(...(event.shiftKey && !dx ? [-dy, 0] : [-dx, -dy]));
    if (!press) hover(event, ...lineup.fromScreen(event.clientX, event.clientY));
  }, { passive: false });

  addEventListener("keydown", (event) => {
    const pressed = event.target.matches("button, summary") && !root.matches(":hover");
    if (event.key !== " " || pressed || event.target.matches("input")) return;
    event.preventDefault(); // the page lies still
    space = true;
    root.classList.add("pans");
  });
  addEventListener("keyup", (event) => { if (event.key === " ") letGo(); });
  addEventListener("blur", letGo);
  function letGo() {
    space = false;
    root.classList.remove("pans");
  }
}
