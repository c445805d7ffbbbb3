// --- Wipe: a drawing as it is left of the bar, put right at its right.
all(".wipe input").forEach((bar) => {
  const set = () => bar.parentElement.style.setProperty("--at", bar.value / 100);
  bar.addEventListener("input", set);
  set();
});
