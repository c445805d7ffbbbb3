// Points of the sheet's own: one to add, or one that the character has not. Written when asked.
import { post } from "./server.js";
import { el } from "./shapes.js";

export function listenToOwnPoints(store, desk) {
  for (const { name, title } of store.setting.parts) el("own-part").append(new Option(title, name));

  async function write(point) {
    desk.flush();
    await store.saved();
    const { status, body } = await post("point", point);
    if (status === 200) location.reload();
    else store.refuse(status, body);
  }

  el("own").addEventListener("submit", (event) => {
    event.preventDefault();
    const name = el("own-name").value.trim().toLowerCase().replace(/\s+/g, "_");
    write({ name, kind: el("own-kind").value, part: el("own-part").value, sides: el("own-sides").checked });
  });
  el("absent").addEventListener("click", () => write({ name: desk.chosen, absent: true }));

  function draw() {
    const { mark } = desk;
    const why = !mark ? "no point is up" : store.setting.needed.includes(mark.name) ? "every sheet is measured by it"
      : store.views.some((view) => store.has(view.name, mark.name)) ? "it is placed; take it out first" : "";
    el("absent").textContent = mark ? `Leave out ${mark.title}` : "Leave out";
    el("absent").disabled = Boolean(why);
    el("absent").title = why;
  }
  desk.addEventListener("choice", draw);
  store.addEventListener("change", draw);
  draw();
}
