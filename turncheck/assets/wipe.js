// --- Wipe: the first picture is left of the bar, the second at its right.
for (const bar of document.querySelectorAll(".wipe input")) {
  const set = () => bar.parentElement.style.setProperty("--at", bar.value / 100);
  bar.addEventListener("input", set);
  set();
}
