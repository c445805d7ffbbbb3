// Only enhances: without it both drawings stand side by side.
const root = document.documentElement;
root.classList.add("scripted");
const changes = [...document.querySelectorAll(".change[data-zoom]")]
  .sort((one, other) => one.id.slice(7) - other.id.slice(7));
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const BLINK = 700; // ms a revision; WCAG 2.3.1 allows three flashes a second
let at = -1, beat = 0;

const wipeOf = (change) => change.closest(".drawing").querySelector(".wipe");
const frame = (wipe, box) => {
  for (const take of wipe.querySelectorAll(".take")) take.setAttribute("viewBox", box);
  const [wide, all] = [box, wipe.dataset.box].map((one) => one.split(" ")[2]);
  wipe.style.setProperty("--k", Math.min(1, 1.4 * wide / all)); // marks grow less than what they mark
};
function current(wipe) {
  document.querySelector(".wipe.now")?.classList.remove("now");
  wipe?.classList.add("now");
}

function whole() {
  for (const wipe of document.querySelectorAll(".wipe")) frame(wipe, wipe.dataset.box);
}
function look(to) {
  at = (to + changes.length) % changes.length;
  const change = changes[at], wipe = wipeOf(change);
  whole();
  frame(wipe, change.dataset.zoom);
  current(wipe);
  document.querySelector(".lit")?.classList.remove("lit");
  change.classList.add("lit");
  change.closest(".drawing").scrollIntoView({ block: "start", behavior: calm.matches ? "auto" : "smooth" });
  change.focus({ preventScroll: true });
}

const blinkButton = document.querySelector('[data-do="blink"]');
function steady() {
  clearInterval(beat);
  beat = 0;
  root.classList.remove("blinking", "odd");
  blinkButton?.setAttribute("aria-pressed", "false");
}
function blink() {
  if (calm.matches && root.classList.contains("blinking")) { // a press for each turn
    if (root.classList.toggle("odd")) return;
    steady();
    return;
  }
  if (beat) { steady(); return; }
  if (!document.querySelector(".wipe.now")) current(nearest());
  root.classList.add("blinking");
  blinkButton.setAttribute("aria-pressed", "true");
  if (!calm.matches) beat = setInterval(() => root.classList.toggle("odd"), BLINK);
}
function nearest() {
  const middle = innerHeight / 2;
  const far = (wipe) => {
    const box = wipe.getBoundingClientRect();
    return Math.max(box.top - middle, middle - box.bottom, 0);
  };
  return [...document.querySelectorAll(".wipe")].sort((one, other) => far(one) - far(other))[0];
}

const DO = { next: () => look(at + 1), previous: () => look(at - 1), blink, whole };
const KEYS = { n: "next", N: "previous", b: "blink", B: "blink", w: "whole", W: "whole" };
if (changes.length) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input:not([type=range])")) return;
    if (event.key === "Escape") { steady(); whole(); } else if (KEYS[event.key]) DO[KEYS[event.key]]();
  });
  document.addEventListener("click", ({ target }) => {
    const button = target.closest("button");
    if (button?.dataset.do) DO[button.dataset.do]();
    if (button?.dataset.look) look(changes.findIndex((change) => change.id === `change-${button.dataset.look}`));
  });
  for (const wipe of document.querySelectorAll(".wipe")) {
    wipe.addEventListener("pointerdown", () => current(wipe));
    wipe.addEventListener("focusin", () => current(wipe));
  }
}
document.body.dataset.ready = "yes";
