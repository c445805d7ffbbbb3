// Only enhances: without it everything is there and can be read. `lettering.js` stands above it.
const root = document.documentElement;
root.classList.add("scripted");
const all = (query, from = document) => [...from.querySelectorAll(query)];
const svg = document.querySelector(".lineup");
const stage = document.querySelector(".stage");
const tip = stage.querySelector(".tip");
const captions = document.querySelector(".captions");
const marks = all(".mark", svg), numbers = all(".balloon", svg);
const drawings = all(".drawing", svg), pictures = all(".picture", svg);
const spans = drawings.map((drawing) => drawing.dataset.span.split(" ").map(Number));
const RANKS = ["off_model", "undecided", "waived", "on_model", "not_measured", "reference"];

// --- The line-up's frame: screen px per unit is 1 / k; marks and words keep their size.
const [X, Y, W, H] = svg.dataset.box.split(" ").map(Number);
const LINE = 14, AWAY = 22, FOOT = 10; // px: a line of names, from a drawing to them, below the ground
const BESIDE = 20; // px: from a figure to the middle of a balloon
const APART = 400; // units that drawings are moved apart at most, where there is room beside them
const PART = 0.28; // of the width, that the names of one side take at most
const NARROW = { left: 700, right: 1000 }; // px: no names in that margin of a narrower line-up
const margins = { left: margin("left", -1), right: margin("right", 1) };
let line = LINE, size = { w: 0, h: 0 }, home = null, view = null, k = 1, apart = 0, tall = false;

function written(text) { return { text, says: text.textContent }; }

function margin(side, out) {
  const group = svg.querySelector(`.margin.${side}`);
  const labels = all(".label", group).map((label) => ({ label, y: Number(label.dataset.y), ...written(label.querySelector("text")) }));
  return { out, labels, paper: group.querySelector(".paper"), numbers: all(".scale text", group) };
}

// Measures every name as it is written whole.
function letters() {
  Object.values(margins).flatMap(({ labels }) => labels).forEach((word) => {
    word.text.textContent = word.says;
    word.wide = word.text.getComputedTextLength();
  });
  // letters are lower than their line
  line = Math.max(LINE, ...all(".label text", svg).map((text) => 0.86 * text.getBBox().height));
}

// Gives the margins the room that their names need.
function margined(w) {
  Object.entries(margins).forEach(([name, side]) => {
    side.wide = 18;
    if (w < NARROW[name]) return;
    const used = AWAY + Math.max(0, ...side.numbers.map((text) => 25 + text.getComputedTextLength()));
    const free = Math.min(8 + Math.max(0, ...side.labels.map(({ wide }) => wide)), PART * w - used);
    side.labels.forEach(({ text, says, wide }) => { text.textContent = shortened(says, wide, free); });
    side.wide = used + free;
  });
}

// Takes a size for the whole line-up, px, and returns what is seen of it.
function framed(w, least, most) {
  margined(w);
  const { left, right } = margins;
  const room = Math.max(w - left.wide - right.wide, 200);
  const h = Math.min(Math.max((H / W) * room + FOOT, least), most);
  const unit = Math.max(W / room, H / (h - FOOT));
  apart = Math.min((room * unit - W) / spans.length, APART);
  [drawings, pictures].forEach((row) => row.forEach((g, i) => g.setAttribute("transform", `translate(${moved(i)} 0)`)));
  const spare = (room * unit - W - apart * spans.length) / 2;
  size = { w, h };
  return { x: X - left.wide * unit - spare, y: Y - (h * unit - H - FOOT * unit) / 2, w: w * unit, h: h * unit };
}

function measure() {
  const w = svg.clientWidth;
  if (!w) return; // out of sight: measured once it is seen again
  const rest = stage.getBoundingClientRect().top + window.scrollY;
  const most = Math.max(window.innerHeight - rest - (tall ? 12 : captions.offsetHeight + 64), window.innerHeight * 0.4, 180);
  const next = framed(w, tall ? most : 0, most);
  svg.style.height = `${size.h}px`;
  const zoomed = view && home && view.w < home.w * 0.999;
  home = next;
  if (!zoomed) view = { ...home };
  else view.h = (view.w * size.h) / w;
  show();
}

function show() {
  view.w = Math.min(view.w, home.w);
  view.h = (view.w * size.h) / size.w;
  view.x = Math.min(Math.max(view.x, home.x), home.x + home.w - view.w);
  view.y = Math.min(Math.max(view.y, home.y), home.y + home.h - view.h);
  k = view.w / size.w;
  svg.setAttribute("viewBox", [view.x, view.y, view.w, view.h].map((n) => n.toFixed(2)).join(" "));
  svg.style.setProperty("--k", k.toFixed(4));
  // on a small figure full-size marks would hide it
  svg.style.setProperty("--m", (k * Math.min(1, Math.max(0.55, 1000 / k / 420))).toFixed(4));
  captions.style.gridTemplateColumns = columns();
  balloons();
  label(margins.left, view.x, view.x + margins.left.wide * k);
  label(margins.right, view.x + view.w - margins.right.wide * k, view.x + view.w);
  svg.querySelector(".scale").setAttribute("transform", `translate(${view.x} 0) scale(${k} 1)`);
  tip.hidden = true;
}

// Puts each drawing's cards under it, as it stands in the whole line-up.
function columns() {
  const at = spans.map(([x], i) => ((x + moved(i) - home.x) / home.w) * 100);
  return at.map((x, i) => `${x - (at[i - 1] ?? 0)}%`).join(" ") + " minmax(0, 1fr)";
}

// Puts the balloons of each gap between drawings beside their places, none on another.
function balloons() {
  const gap = 2 + Math.max(...numbers.map((b) => b.querySelector(".k").getBBox().height));
  Map.groupBy(numbers, (b) => b.dataset.gutter).forEach((some) => {
    const high = (b) => place(b)[1];
    some.sort((a, b) => high(a) - high(b));
    const places = spread(some.map(high), gap * k, Y + 16 * k, Y + H - gap * k);
    some.forEach((b, i) => {
      const out = Number(b.dataset.out), x = out + Math.sign(out) * BESIDE * k, y = places[i] - high(b);
      b.querySelector(".at").setAttribute("transform", `translate(${x} ${y})`);
      all("path", b).forEach((path) => path.setAttribute("d", `M0 0L${x} ${y}`));
    });
  });
}

// Puts a margin's paper from one x to another, its names beside their heights.
function label({ out, paper, labels }, from, to) {
  const edge = out < 0 ? to : from;
  paper.setAttribute("x", from);
  paper.setAttribute("width", to - from + 9);
  const low = view.y + line * k, high = view.y + view.h - 6 * k;
  const seen = labels.filter(({ y, label: shown }) => {
    const inside = y > view.y && y < view.y + view.h;
    shown.classList.toggle("gone", !inside);
    return inside;
  });
  const places = spread(seen.map(({ y }) => y), line * k, low, high);
  seen.forEach(({ y, label: shown }, i) => {
    shown.querySelector("path").setAttribute("d", `M${edge} ${y}L${edge + out * 18 * k} ${places[i]}`);
    shown.querySelector("g").setAttribute("transform", `translate(${edge + out * AWAY * k} ${places[i]})`);
  });
}

function moved(i) { return apart * (i + 0.5); }

function place(mark) {
  const [x, y] = mark.getAttribute("transform").match(/-?[\d.]+/g).map(Number);
  return [x + moved(drawings.indexOf(mark.parentElement)), y];
}

function zoom(factor, x = view.x + view.w / 2, y = view.y + view.h / 2) {
  const w = Math.min(Math.max(view.w * factor, home.w / 24), home.w);
  const f = w / view.w;
  view = { x: x - (x - view.x) * f, y: y - (y - view.y) * f, w, h: view.h * f };
  show();
}

function grow(on) {
  tall = on;
  view = null;
  measure();
}

function frame(i) {
  grow(true);
  const [x, w] = spans[i];
  const { left, right } = margins;
  const room = size.w - left.wide - right.wide;
  const unit = Math.max(w / Math.max(room, 120), H / (size.h - FOOT));
  view.w = size.w * unit;
  view.h = size.h * unit;
  view.x = x + moved(i) + w / 2 - (left.wide + room / 2) * unit;
  view.y = Y;
  show();
}

const at = (event) => {
  const box = svg.getBoundingClientRect();
  return [view.x + (event.clientX - box.left) * k, view.y + (event.clientY - box.top) * k];
};
svg.addEventListener("wheel", (event) => {
  if (!(event.ctrlKey || event.metaKey || stage.contains(document.activeElement))) return;
  event.preventDefault();
  zoom(Math.exp(Math.sign(event.deltaY) * 0.18), ...at(event));
}, { passive: false });

let held = null;
svg.addEventListener("pointerdown", (event) => {
  if (event.button || event.pointerType === "touch") return;
  held = { x: event.clientX, y: event.clientY, from: { ...view }, moved: false };
});
svg.addEventListener("pointermove", (event) => {
  if (!held) return;
  const dx = event.clientX - held.x, dy = event.clientY - held.y;
  if (!held.moved && Math.hypot(dx, dy) < 4) return;
  if (!held.moved) svg.setPointerCapture(event.pointerId);
  held.moved = true;
  svg.classList.add("held");
  view = { ...view, x: held.from.x - dx * k, y: held.from.y - dy * k };
  show();
});
const release = () => {
  svg.classList.remove("held");
  if (held) setTimeout(() => { held = null; });
};
svg.addEventListener("pointerup", release);
svg.addEventListener("pointercancel", release);
svg.addEventListener("click", (event) => { if (held && held.moved) event.preventDefault(); }, true);
all("[data-zoom]").forEach((button) => button.addEventListener("click", () => {
  const kind = button.dataset.zoom;
  if (kind === "in") zoom(0.7);
  else if (kind === "out") zoom(1 / 0.7);
  else if (kind === "all") grow(false);
  else frame(Number(button.dataset.drawing));
}));

// --- Marks: one stop for Tab in each drawing, arrows between them.
marks.forEach((mark) => {
  const title = mark.querySelector("title");
  mark.setAttribute("aria-label", title.textContent);
  title.remove();
  mark.setAttribute("tabindex", "-1");
});
const visible = (drawing) => all(".balloon, .mark", drawing).filter((mark) => mark.checkVisibility());
function stops() {
  drawings.forEach((drawing) => {
    all(".mark", drawing).forEach((mark) => mark.setAttribute("tabindex", "-1"));
    const shown = visible(drawing), first = shown.find((mark) => mark.matches(".balloon")) || shown[0];
    if (first) first.setAttribute("tabindex", "0");
  });
}
function neighbour(mark, dx, dy) {
  const [x, y] = place(mark);
  let best = null, least = Infinity;
  visible(svg).forEach((other) => {
    const [ox, oy] = place(other);
    const along = (ox - x) * dx + (oy - y) * dy;
    const aside = Math.abs((ox - x) * dy) + Math.abs((oy - y) * dx);
    if (other !== mark && along > 0.5 && along + 2 * aside < least) { least = along + 2 * aside; best = other; }
  });
  return best;
}
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
stage.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const mark = event.target.closest(".mark");
  const arrow = ARROWS[event.key];
  if (event.key === "+" || event.key === "=") zoom(0.7);
  else if (event.key === "-") zoom(1 / 0.7);
  else if (event.key === "0") grow(false);
  else if (event.key === "Escape") { tip.hidden = true; return; }
  else if (arrow && mark) {
    const next = neighbour(mark, ...arrow);
    if (next) {
      all(".mark", next.closest(".drawing")).forEach((m) => m.setAttribute("tabindex", "-1"));
      next.setAttribute("tabindex", "0");
      next.focus();
      reveal(next);
      name(next);
    }
  } else if (arrow && view.w < home.w * 0.999) {
    view.x += arrow[0] * view.w * 0.12;
    view.y += arrow[1] * view.h * 0.12;
    show();
  } else return;
  event.preventDefault();
});

function reveal(mark) {
  const [x, y] = place(mark);
  const inside = x > view.x + margins.left.wide * k && x < view.x + view.w - margins.right.wide * k
    && y > view.y && y < view.y + view.h;
  if (inside) return;
  view.x = x - view.w / 2;
  view.y = y - view.h / 2;
  show();
}

// --- Names: shown beside the mark, kept while pointed at, gone with Escape.
let leaving = 0;
function name(mark) {
  clearTimeout(leaving);
  tip.textContent = mark.getAttribute("aria-label");
  tip.hidden = false;
  const box = stage.getBoundingClientRect(), spot = mark.querySelector(".hit").getBoundingClientRect();
  const x = (spot.left + spot.right) / 2 - box.left;
  const right = x + 16 + tip.offsetWidth < stage.clientWidth;
  tip.style.left = `${stage.scrollLeft + (right ? x + 14 : Math.max(x - 14 - tip.offsetWidth, 0))}px`;
  const y = (spot.top + spot.bottom) / 2 - box.top - tip.offsetHeight / 2;
  tip.style.top = `${Math.min(Math.max(y, 2), stage.clientHeight - tip.offsetHeight - 2)}px`;
}
const leave = () => { leaving = setTimeout(() => { tip.hidden = true; }, 150); };
svg.addEventListener("pointerover", (event) => {
  const mark = event.target.closest(".mark");
  if (mark && !(held && held.moved)) name(mark); else if (!tip.hidden) leave();
});
svg.addEventListener("pointerleave", leave);
tip.addEventListener("pointerenter", () => clearTimeout(leaving));
tip.addEventListener("pointerleave", leave);
stage.addEventListener("focusin", (event) => { const mark = event.target.closest(".mark"); if (mark) name(mark); });
stage.addEventListener("focusout", leave);

// --- What is shown.
function filter() {
  const checks = new Set(all("[data-check]:checked").map((box) => box.dataset.check));
  marks.filter((mark) => mark.dataset.verdicts !== undefined).forEach((mark) => {
    const said = mark.dataset.verdicts.split(" ").filter(Boolean).map((pair) => pair.split("="));
    const kept = said.filter(([check]) => checks.has(check)).map(([, verdict]) => verdict);
    const worst = kept.sort((a, b) => RANKS.indexOf(a) - RANKS.indexOf(b))[0] || (said.length ? "" : "reference");
    [mark, ...all(`.move[data-mark="${mark.id}"]`, svg)].forEach((one) => one.classList.toggle("gone", !worst));
    if (!worst) return;
    RANKS.forEach((rank) => mark.classList.toggle(`is-${rank}`, rank === worst));
    mark.querySelector("use").setAttribute("href", `#shape-${worst}`);
  });
  stops();
}
all(".tools input").forEach((box) => box.addEventListener("change", filter));
