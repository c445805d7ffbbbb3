// Where the words beside the marks go: in sight, off one another, and off the marks if there is room.
// A rectangle is [left, top, right, bottom], screen px from the stage's corner.
// The numbers were chosen by looking at the samples at 1440 and 1024 px; they have no other source.

/** Where a label may stand, seen from its mark: the best first. `way` 1: it reads away to the right. */
export const CORNERS = [{ x: 14, y: -9, way: 1 }, { x: -14, y: -9, way: -1 }, { x: 14, y: 20, way: 1 }, { x: -14, y: 20, way: -1 }];
const RISE = 13; // above the base line, with the letters' pale edge
const FALL = 5; // below it
const APART = 8; // between two texts in a row, so that they do not read as one
const DOTS = 20; // for the dots of a shortened text, and for letters wider than most
const STAY = 80; // square px by which another corner must be better, so that a label does not flicker
// what a square px costs: unreadable, unreadable for two, a mark under it, astray in another drawing
const CUT = 100;
const CROSSED = 30;
const COVERED = 1;
const ASTRAY = 2;

const area = ([left, top, right, bottom]) => Math.max(right - left, 0) * Math.max(bottom - top, 0);
const common = (a, b) => [Math.max(a[0], b[0]), Math.max(a[1], b[1]), Math.min(a[2], b[2]), Math.min(a[3], b[3])];
const apart = ([left, top, right, bottom]) => [left - APART, top, right + APART, bottom];
const shared = (a, b) => area(common(a, b));

export function boxOf(x, y, wide, way = 1) {
  return [way > 0 ? x : x - wide, y - RISE, way > 0 ? x + wide : x, y + FALL];
}

/** Give each label, {x, y, wide, frame, corner}, the corner that costs least, one after another. */
export function settle(labels, room, taken, marks) {
  const texts = taken.map(apart);
  for (const label of labels) {
    const cost = (corner) => {
      const { x, y, way } = CORNERS[corner];
      const box = boxOf(label.x + x, label.y + y, label.wide, way);
      return CUT * (area(box) - shared(box, room)) + ASTRAY * (area(box) - shared(box, label.frame))
        + CROSSED * texts.reduce((sum, text) => sum + shared(box, text), 0)
        + COVERED * marks.reduce((sum, mark) => sum + shared(box, mark), 0) - (corner === label.corner ? STAY : 0);
    };
    const costs = CORNERS.map((_, corner) => cost(corner));
    label.corner = costs.indexOf(Math.min(...costs));
    const { x, y, way } = CORNERS[label.corner];
    texts.push(apart(boxOf(label.x + x, label.y + y, label.wide, way)));
  }
}

/** Shorten a text, `wide` px as a whole, to what `free` px hold; "" where that says nothing. */
export function shortened(text, wide, free) {
  if (wide <= free + 1) return text;
  const letters = Math.floor(((free - DOTS) / wide) * text.length);
  return letters < 3 ? "" : `${text.slice(0, letters).trim()}…`;
}
