// The vocabulary as a list: grouped by part, with what each landmark is and where it is done.
import { shape } from "./shapes.js";

const html = (tag, className, text = "") => {
  const element = document.createElement(tag);
  if (className) element.className = className;
  element.textContent = text;
  return element;
};

export function listLandmarks(root, store, desk) {
  const rows = new Map();
  const groups = new Map();
  for (const mark of store.landmarks) {
    const { part } = mark;
    if (!groups.has(part)) {
      const id = `part-${groups.size}`;
      const title = html("h3", "", part);
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
    const item = document.createElement("li");
    item.append(button);
    groups.get(part).append(item);
    rows.set(mark.name, { button, dots, heard });
  }

  function draw() {
    for (const [name, { dots, heard }] of rows) {
      const said = store.views.map((view) => {
        const words = store.reading(view.name, name)?.words || "placed";
        return store.has(view.name, name) ? `${view.title} ${words}` : `${view.title} not placed`;
      });
      heard.textContent = ` (${said.join("; ")})`;
      dots.replaceChildren(...store.views.map((view) => dot(store, view, name)));
    }
  }

  let last = null;
  function press() {
    if (desk.chosen === last) return;
    rows.get(last)?.button.setAttribute("aria-pressed", "false");
    const button = rows.get(desk.chosen)?.button;
    button?.setAttribute("aria-pressed", "true");
    button?.scrollIntoView({ block: "nearest" });
    last = desk.chosen;
  }
  store.addEventListener("change", draw);
  desk.addEventListener("choice", press);
  draw();
  press();
}

function dot(store, view, name) {
  const placed = store.has(view.name, name);
  const verdict = placed ? store.reading(view.name, name)?.verdict ?? "waiting" : "none";
  return shape(verdict);
}
