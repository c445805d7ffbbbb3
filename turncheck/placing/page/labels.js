// Where the words beside the marks go: in sight, off one another, and off the marks if there is room.
// A rectangle is [left, top, right, bottom], screen px from the lineup's corner.
// The numbers were chosen by looking at the samples at 1440 and 1024 px; they have no other source.

/** Where a label may stand, seen from its mark: the best first. `way` 1: it reads away to the right. */
export const CORNERS = [
  { x: 14, y: -9, way: 1 }, { x: -14, y: -9, way: -1 }, { x: 14, y: 20, way: 1 }, { x: -14, y: 20, way: -1 },
  { x: 20, y: 5, way: 1 }, { x: -20, y: 5, way: -1 }, { x: 14, y: 42, way: 1 }, { x: -14, y: 42, way: -1 },
];
const EDGE = 2; // of the letters' pale edge: half of its stroke
const APART = 8; // between two texts in a row, so that they do not read as one
const DOTS = 20; // for the dots of a shortened text, and for letters wider than most
const ROUNDS = 4;
const STAY = 80; // square px by which another corner must be better, so that a label does not flicker
// what a square px costs: unreadable, unreadable for two, a mark under it, astray in another drawing
const CUT = 100;
const CROSSED = 30;
const COVERED = 1;
const ASTRAY = 2;
const SPOILT = 5000; // what the first square px that can't be read costs: more than any mark covered

const area = ([left, top, right, bottom]) => Math.max(right - left, 0) * Math.max(bottom - top, 0);
const common = (a, b) => [Math.max(a[0], b[0]), Math.max(a[1], b[1]), Math.min(a[2], b[2]), Math.min(a[3], b[3])];
const apart = ([left, top, right, bottom]) => [left - APART, top, right + APART, bottom];
const shared = (a, b) => area(common(a, b));

const canvas = document.createElement("canvas").getContext("2d");
const fonts = new Map(); // by what a text is

/** What a text takes from its base line: px of its own. Asked of a canvas, for to ask the text itself
 *  would lay the page out. */
export function measured(text) {
  const what = `${text.getAttribute("class")} in ${text.parentNode.classList[0]}`;
  if (!fonts.has(what)) fonts.set(what, getComputedStyle(text).font);
  canvas.font = fonts.get(what);
  const { width, fontBoundingBoxAscent: rise, fontBoundingBoxDescent: fall } = canvas.measureText(text.textContent);
  return { wide: width, rise: rise + EDGE, fall: fall + EDGE };
}

export function boxOf(x, y, { wide, rise, fall }, way = 1) {
  return [way > 0 ? x : x - wide, y - rise, way > 0 ? x + wide : x, y + fall];
}

const boxAt = ({ x, y, size }, corner) =>
  boxOf(x + CORNERS[corner].x, y + CORNERS[corner].y, size, CORNERS[corner].way);

/** Square px of a box that can't be read: beyond the room, and over other texts. */
function lost(box, room, texts) {
  return [area(box) - shared(box, room), texts.reduce((sum, text) => sum + shared(box, text), 0)];
}

/** Give each label, {x, y, size, frame, corner}, the corner that costs least: first those that can
 *  stand in few corners, then all again beside the others' until none moves. */
export function settle(labels, room, taken, marks) {
  const fixed = taken.map(apart);
  const chosen = new Map();
  const spoilt = ([cut, crossed]) => cut + crossed > 1;
  const free = (label) => CORNERS.filter((_, corner) => !spoilt(lost(boxAt(label, corner), room, fixed))).length;
  const choose = (label) => {
    chosen.delete(label);
    const texts = [...fixed, ...chosen.values()];
    const costs = CORNERS.map((_, corner) => {
      const box = boxAt(label, corner);
      const unread = lost(box, room, texts);
      return CUT * unread[0] + CROSSED * unread[1] + (spoilt(unread) ? SPOILT : 0)
        + ASTRAY * (area(box) - shared(box, label.frame))
        + COVERED * marks.reduce((sum, mark) => sum + shared(box, mark), 0)
        - (corner === label.corner ? STAY : 0);
    });
    const before = label.corner;
    label.corner = costs.indexOf(Math.min(...costs));
    chosen.set(label, apart(boxAt(label, label.corner)));
    return label.corner !== before;
  };
  const choices = new Map(labels.map((label) => [label, free(label)]));
  const order = [...labels].sort((a, b) => choices.get(a) - choices.get(b));
  for (let round = 0; round < ROUNDS && order.map(choose).some(Boolean); round += 1);
}
