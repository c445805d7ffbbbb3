// --- Tables: sorted by their headings; what has no value stays below.
const alphabet = new Intl.Collator("en", { numeric: true });
for (const table of document.querySelectorAll("table.rows")) {
  const body = table.tBodies[0], rows = [...body.rows];
  const sorted = (head) => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    table.querySelectorAll("th[aria-sort]").forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const text = head.dataset.sort === "text", column = head.cellIndex;
    const value = (row) => {
      const cell = row.cells[column];
      if (text) return cell.textContent.trim();
      return parseFloat((cell.dataset.value ?? cell.textContent).replace("−", "-"));
    };
    const isEmpty = (one) => one === "" || Number.isNaN(one);
    const order = text ? alphabet.compare : (a, b) => a - b;
    rows.map((row, i) => [value(row), i, row])
      .sort(([a, i], [b, j]) => isEmpty(a) - isEmpty(b)
        || (isEmpty(a) ? 0 : (up ? 1 : -1) * order(a, b)) || i - j)
      .forEach(([, , row]) => body.append(row));
  };
  for (const head of table.querySelectorAll("th[data-sort]")) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = head.dataset.title;
    button.addEventListener("click", () => sorted(head));
    head.replaceChildren(button);
  }
}
