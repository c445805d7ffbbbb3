// Only enhances: without it everything is there. `tables.js` stands above it.
const root = document.documentElement;
root.classList.add("scripted");
const table = document.querySelector("#sheets table");
const cast = document.querySelector(".cast");

if (table) {
  const number = (row) => Number(row.id.slice("sheet-".length));
  const folded = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  const sheets = [...table.tBodies[0].rows].map((row) => ({
    row,
    stand: document.getElementById(`at-${number(row)}`),
    words: folded([...row.querySelectorAll("th, .by")].map((cell) => cell.textContent).join(" ")),
  }));
  const shown = document.getElementById("shown"), find = document.getElementById("find");
  let only = "";

  // --- Only those of a verdict, or whose words are looked for.
  const show = () => {
    const sought = folded(find.value).split(/\s+/).filter(Boolean);
    const left = sheets.filter(({ row, stand, words }) => {
      const stays = (!only || row.classList.contains(only)) && sought.every((word) => words.includes(word));
      row.hidden = !stays;
      stand.hidden = !stays;
      return stays;
    });
    const all = left.length === sheets.length;
    shown.textContent = all ? "" : `${left.length} of ${sheets.length} sheets shown`;
  };
  find.addEventListener("input", show);
  const buttons = [...document.querySelectorAll("[data-only]")].map((words) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.only = words.dataset.only;
    button.setAttribute("aria-pressed", "false");
    button.append(...words.childNodes);
    words.replaceWith(button);
    return button;
  });
  buttons.forEach((button) => button.addEventListener("click", () => {
    only = only === button.dataset.only ? "" : button.dataset.only;
    buttons.forEach((other) => other.setAttribute("aria-pressed", String(other.dataset.only === only)));
    show();
  }));

  // --- The cast stands in the order of the table.
  const orders = [...document.querySelectorAll("[data-by]")];
  const heads = [...table.tHead.rows[0].cells];
  const WAYS = { height: ["Height", "descending"], name: ["Character", "ascending"] };
  const stand = () => cast.append(...[...table.tBodies[0].rows].map((row) => sheets[number(row)].stand));
  const press = (by) => orders.forEach((one) => one.setAttribute("aria-pressed", String(one.dataset.by === by)));
  table.tHead.addEventListener("click", (event) => {
    const head = event.target.closest("th");
    if (!head || !event.target.closest("button")) return;
    stand();
    const way = Object.entries(WAYS).find(([, [title, order]]) => title === head.dataset.title
      && order === head.getAttribute("aria-sort"));
    press(way && way[0]);
  });
  orders.forEach((button) => button.addEventListener("click", () => {
    const [title, order] = WAYS[button.dataset.by] ?? [];
    if (!title) {
      heads.forEach((head) => head.removeAttribute("aria-sort"));
      table.tBodies[0].append(...sheets.map(({ row }) => row));
      stand();
      press(button.dataset.by);
      return;
    }
    const head = heads.find((one) => one.dataset.title === title);
    // A heading sorts the other way each time: so once is enough.
    head.setAttribute("aria-sort", order === "descending" ? "ascending" : "descending");
    head.querySelector("button").click();
  }));
  show();
}
document.body.dataset.ready = "yes";
