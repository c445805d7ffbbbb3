// --- The turn: one angle of the picture of all.
for (const bar of all(".turner input")) {
  const box = bar.closest(".turner"), { width, height } = box.querySelector("svg").viewBox.baseVal;
  const angles = bar.dataset.angles.split(" "), columns = bar.dataset.columns;
  const set = () => {
    const x = bar.value % columns * width, y = Math.floor(bar.value / columns) * height;
    box.querySelector("use").setAttribute("transform", `translate(${-x} ${-y})`);
    box.querySelector("output").textContent = angles[bar.value];
    bar.setAttribute("aria-valuetext", angles[bar.value]);
  };
  bar.addEventListener("input", set);
  set();
}
