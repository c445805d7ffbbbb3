// --- Paper: the whole line-up, everything open.
const SHEET = 1030, PAPER = 378; // px: the width of a page, and what verdict and cards leave of it
let shut = [];
window.addEventListener("beforeprint", () => {
  const today = new Date().toLocaleDateString("en-GB", { dateStyle: "long" });
  root.style.setProperty("--printed", `"printed on ${today}"`);
  shut = all("details:not([open], .calm, .accept)");
  shut.forEach((box) => { box.open = true; });
  home = framed(SHEET, 0, PAPER);
  view = { ...home };
  show();
});
window.addEventListener("afterprint", () => {
  shut.forEach((box) => { box.open = false; });
  grow(false);
});

// --- Words in other pictures: none cut at a picture's edge.
function lettered() {
  letters();
  measure();
  measure(); // now that the cards stand in their columns
  all(".bracket text").forEach((text) => {
    text.removeAttribute("x");
    const box = text.getBoundingClientRect(), room = text.closest("svg").getBoundingClientRect();
    const over = Math.max(box.right - room.right, 0) + Math.min(box.left - room.left, 0);
    if (over && room.width) text.setAttribute("x", -over / text.getScreenCTM().a);
  });
}

filter();
await lettersLoaded();
lettered();
document.fonts.addEventListener("loadingdone", lettered);
new ResizeObserver(() => { if (svg.clientWidth !== size.w) measure(); }).observe(stage);
arrive();
document.body.dataset.ready = "yes";
