// Elements of the page and of SVG, and the shape that stands for a verdict: one of those in shapes.svg.
const NS = "http://www.w3.org/2000/svg";

export const el = (id) => document.getElementById(id);

export function html(tag, className = "", text = "") {
  const element = document.createElement(tag);
  if (className) element.className = className;
  element.textContent = text;
  return element;
}

export function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** Set attributes that are not so already: what is set is laid out and painted anew, changed or not. */
export function write(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (element.getAttribute(name) !== String(value)) element.setAttribute(name, value);
  }
}

/** Where the shape of a verdict is; a plain ring for what is placed and not judged. */
export function shapeOf(verdict) {
  return document.getElementById(`shape-${verdict}`) ? `#shape-${verdict}` : "#shape-plain";
}

/** A verdict's shape as large as the letters beside it; "none" for what is not placed. */
export function shape(verdict) {
  const use = svg("use", { href: shapeOf(verdict), x: -8, y: -8, width: 16, height: 16 });
  return svg("svg", { class: `shape is-${verdict}`, viewBox: "-8 -8 16 16", "aria-hidden": "true" }, use);
}
