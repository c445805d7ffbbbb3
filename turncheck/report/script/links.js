// --- Links between rows and marks.
const lit = (elements) => {
  all(".lit").forEach((element) => element.classList.remove("lit"));
  elements.forEach((element) => element && element.classList.add("lit"));
};
function go(id, others = []) {
  const target = document.getElementById(id);
  if (!target) return false;
  for (let box = target.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  if (target.classList.contains("mark")) {
    if (!target.checkVisibility()) { all(".tools input:not(#show-faults)").forEach((box) => { box.checked = true; }); filter(); }
    reveal(target);
    stage.scrollIntoView({ block: "center" });
    target.focus({ preventScroll: true });
    lit([target, ...others.map((other) => document.getElementById(other))]);
    name(target);
    return true;
  }
  if (target.matches("tr, .card")) {
    lit([target]);
    target.scrollIntoView({ block: "center" });
    target.focus({ preventScroll: true });
    return true;
  }
  return false;
}
document.addEventListener("click", (event) => {
  const link = event.target.closest && event.target.closest('a[href^="#"]');
  if (!link || event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const id = link.getAttribute("href").slice(1);
  if (go(id, (link.dataset.marks || "").split(" "))) {
    event.preventDefault();
    history.pushState(null, "", `#${id}`);
  }
});
const arrive = () => { if (location.hash) go(decodeURIComponent(location.hash.slice(1))); };
window.addEventListener("popstate", arrive);
