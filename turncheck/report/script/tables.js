// --- Tables: sorted by their headings.
all("table.rows").forEach((table) => {
  const body = table.tBodies[0], rows = [...body.rows];
  const button = (head) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = head.dataset.title;
    head.replaceChildren(made);
    return made;
  };
  all("th[data-sort]", table).forEach((head) => button(head).addEventListener("click", () => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    all("th[aria-sort]", table).forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    const text = head.dataset.sort === "text", column = head.cellIndex;
    const value = (row) => {
      const cell = row.cells[column];
      if (text) return cell.textContent;
      const number = parseFloat((cell.dataset.value ?? cell.textContent).replace("−", "-"));
      return Number.isNaN(number) ? Infinity : number;
    };
    const order = text ? (a, b) => a.localeCompare(b, "en") : (a, b) => (a === b ? 0 : a - b);
    rows.map((row, i) => [value(row), i, row])
      .sort((a, b) => (up ? 1 : -1) * order(a[0], b[0]) || a[1] - b[1])
      .forEach(([, , row]) => body.append(row));
  }));
});
