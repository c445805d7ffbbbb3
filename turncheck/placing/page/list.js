// The points as a list: grouped by part, with what each one is and where it is done.
import { html, shape } from "./shapes.js";

/** Build the list; returns what draws it, for when it is opened. */
export function listLandmarks(root, store, desk) {
  const rows = new Map();
  const groups = new Map();
  for (const mark of store.landmarks) {
    const { part } = mark;
    if (!groups.has(part)) {
      const id = `part-${groups.size}`;
      const title = html("h2", "", part);
      const list = html("ul");
      title.id = id;
      list.setAttribute("aria-labelledby", id);
      root.append(title, list);
      groups.set(part, list);
    }
    const button = html("button", "landmark");
    button.type = "button";
    button.setAttribute("aria-pressed", "false");
    const dots = html("span", "dots");
    dots.setAttribute("aria-hidden", "true");
    const heard = html("span", "hear");
    button.append(html("span", "title", mark.title), dots, html("span", "says", mark.says), heard);
    button.addEventListener("click", () => desk.choose(mark.name));
    const item = html("li");
    item.append(button);
    groups.get(part).append(item);
    rows.set(mark.name, { button, dots, heard });
  }

  const isAway = () => Boolean(root.closest("[hidden]")); // it is drawn once it is looked at

  function draw() {
    if (isAway()) return;
    for (const [name, { dots, heard }] of rows) {
      const said = store.views.map((view) => {
        const words = store.reading(view.name, name)?.words || "placed";
        const not = desk.isUnseen(view.name, name) ? "not seen" : "not placed";
        return `${view.title} ${store.has(view.name, name) ? words : not}`;
      });
      heard.textContent = ` (${said.join("; ")})`;
      dots.replaceChildren(...store.views.map((view) => dot(view, name)));
    }
  }

  function dot(view, name) {
    const verdict = store.has(view.name, name) ? store.reading(view.name, name)?.verdict ?? "waiting" : "none";
    const made = shape(verdict);
    if (desk.isUnseen(view.name, name)) made.classList.add("unseen");
    return made;
  }

  let last = null;
  function press() {
    if (desk.chosen === last || isAway()) return;
    rows.get(last)?.button.setAttribute("aria-pressed", "false");
    const button = rows.get(desk.chosen)?.button;
    button?.setAttribute("aria-pressed", "true");
    // with the frame, for it is laid out then anyway
    if (button) requestAnimationFrame(() => button.scrollIntoView({ block: "nearest" }));
    last = desk.chosen;
  }
  const show = () => { draw(); press(); };
  store.addEventListener("change", draw);
  desk.addEventListener("choice", show);
  return show;
}
