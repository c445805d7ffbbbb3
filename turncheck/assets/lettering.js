// Words in the room that there is, by what they measure in the letters that the reader has.

const DOTS = 20; // px for the dots of a shortened text, and for letters wider than most
const SMALLEST = 0.8; // of its size, for a name in a narrow place

/** Wait for the letters of the page, so that what is measured is what is shown. */
export function lettersLoaded() {
  return Promise.all([...document.fonts].map((face) => face.load().catch(() => null)));
}

/** Shorten a text, `wide` px as a whole, to what `free` px hold; "" where that says nothing. */
export function shortened(text, wide, free) {
  if (wide <= free + 1) return text;
  const letters = Math.floor(((free - DOTS) / wide) * text.length);
  return letters < 3 ? "" : `${text.slice(0, letters).trim()}…`;
}

/** A name in `free` px: somewhat smaller where that is enough, else shortened. Returns [text, size]. */
export function fitted(text, wide, free) {
  const size = Math.min(Math.max(free / wide, SMALLEST), 1);
  return [shortened(text, wide, free / size), size];
}

/** Places at least a gap apart, in order, near the wanted ones and from low to high. Groups that
 *  touch are centred on what they want; where the bounds are too narrow the gap shrinks. */
export function spread(wanted, gap, low, high) {
  const step = Math.min(gap, (high - low) / Math.max(wanted.length - 1, 1));
  const groups = []; // [mean of wanted less own offset, how many]
  for (const want of wanted) {
    let start = want;
    let count = 1;
    while (groups.length && groups.at(-1)[0] + groups.at(-1)[1] * step > start) {
      const [before, members] = groups.pop();
      start = (before * members + (start - members * step) * count) / (members + count);
      count += members;
    }
    groups.push([start, count]);
  }
  const places = groups.flatMap(([start, count]) => Array.from({ length: count }, (_, i) => start + step * i));
  places.forEach((place, i) => { places[i] = Math.max(place, low + i * step); });
  for (let i = places.length - 1; i >= 0; i -= 1) {
    places[i] = Math.min(places[i], high - (places.length - 1 - i) * step);
  }
  return places;
}
