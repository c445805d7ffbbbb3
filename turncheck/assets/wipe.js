// --- Wipe: the first is left of the bar.
for (const bar of document.querySelectorAll(".wipe input")) {
  const set = () => bar.parentElement.style.setProperty("--at", bar.value / 100);
  bar.addEventListener("input", set);
  set();
}
