// Verdict, comparison, checks and notes.

const $ = (id) => document.getElementById(id);

const ROWS = [
  ["margin", "lowest margin"], ["governing", "governed by"], ["mass", "mass"], ["EI", "bending stiffness EI"],
  ["buckling_load", "buckles at, pure compression"], ["depth", "wall depth"],
];

// Powers and signs as print has them.
export const typeset = (text) => String(text).replace(/deg([CF])\b/g, "°$1").replace(/ ?\bdeg\b/g, "°").replace(/\^2/g, "²").replace(/\^3/g, "³").replace(/(^|[\s(])-(?=\d)/g, "$1−").replace(/(\d[^,;]*?) x (?=\d)/g, "$1 × ");

function cell(kind, text, more = {}) {
  const node = document.createElement(kind);
  node.append(text instanceof Node ? text : typeset(text));
  for (const [key, value] of Object.entries(more)) node.setAttribute(key, value);
  return node;
}

export function showVerdict(now) {
  const place = $("verdict"), margin = now.si.margin;
  place.classList.toggle("fails", margin !== null && margin < 0);
  place.classList.toggle("unknown", margin === null);
  $("margin").textContent = margin === null ? now.text.margin.replace("no case", "no load case") : typeset(`${margin < 0 ? "fails" : "holds"}, margin ${now.text.margin}`);
  $("governs").textContent = now.text.case ? `governed by ${now.text.governing}, in case “${now.text.case}”` : "no load case in the file: add [[case]] to get margins";
}

// columns: [{head, column or null, reason, buttons: [[text, deed]]}]
export function showNumbers(columns) {
  const head = document.createElement("tr");
  head.append(cell("td", ""));
  for (const { title, buttons } of columns) {
    const th = cell("th", title, { scope: "col" });
    if (buttons.length) th.append(document.createElement("br"));
    for (const [text, label, deed] of buttons) {
      const button = cell("button", text, { type: "button", "aria-label": label });
      button.addEventListener("click", deed);
      th.append(button);
    }
    head.append(th);
  }
  $("numbers").tHead.replaceChildren(head);
  const plain = columns.find((c) => c.plain)?.column;
  $("numbers").tBodies[0].replaceChildren(...ROWS.map(([key, label]) => {
    const row = document.createElement("tr");
    row.append(cell("th", label, { scope: "row" }));
    columns.forEach(({ column, reason }, index) => {
      const text = column ? column.text[key] : index === 1 && key === "margin" ? reason : "";
      const td = cell("td", text, { "data-key": key });
      if (column && key === "margin" && column.si.margin !== null && column.si.margin < 0) td.classList.add("fails");
      if (index === 0 && plain && ["EI", "buckling_load", "depth"].includes(key)) {
        td.append(" ", cell("span", `${(column.si[key] / plain.si[key]).toFixed(2)} × plain`, { class: "small" }));
      }
      row.append(td);
    });
    return row;
  }));
}

export function showDetails(details) {
  $("checks").tBodies[0].replaceChildren(...details.checks.map((check) => {
    const row = document.createElement("tr");
    const name = cell("th", `${check.name} `, { scope: "row" });
    name.append(cell("span", `${check.case}. ${check.notes.join("; ")}`, { class: "small" }));
    row.append(name, cell("td", check.margin, check.holds ? {} : { class: "fails" }),
      cell("td", check.allowable), cell("td", check.applied));
    return row;
  }));
  const lines = [...details.notes, ...details.rounding];
  $("notes").replaceChildren(...lines.map((line) => cell("li", line)));
  $("notes-count").textContent = `(${lines.length})`;
  $("caution").textContent = details.cautions[0];
  $("make-caution").textContent = details.cautions.slice(1).map((line) => line.replace(/\.?$/, ".")).join(" ");
}

export function showMoldAdvice(advice, refused = "") {
  if (!advice?.length) {
    $("mold-advice").replaceChildren(cell("li", refused || "no mold for this pattern"));
    $("mold-worst").textContent = "";
    return;
  }
  $("mold-advice").replaceChildren(...advice.map(({ name, verdict, advice: text }) => {
    const item = document.createElement("li");
    item.append(cell("strong", `${name}: ${verdict}. `), typeset(text));
    return item;
  }));
  const count = (word) => advice.filter((a) => a.verdict === word).length;
  $("mold-worst").textContent = ["fails", "caution"].filter(count).map((word) => `${count(word)} × ${word}`).join(", ")
    || "nothing against it";
}
