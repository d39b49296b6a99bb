// Verdict, comparison, checks and notes.

import { $, element, typeset } from "./dom.js";

const ROWS = [
  ["margin", "lowest margin, load cases"], ["governing", "governed by"], ["mass", "mass"], ["depth", "wall depth"],
  ["EI", "bending stiffness EI"], ["GJ", "torsional stiffness GJ"], ["buckling_load", "buckling load, axial compression"],
  ["crushing_pressure", "external buckling pressure"],
  ["wall_bending", "hoop bending stiffness D22 (dents)"], ["frequency", "first bending frequency, free-free"], ["deflection", "largest deflection"],
];
const FOLLOW = ["buckling_load", "crushing_pressure"]; // a moment after the rest
const COMPARED = ["EI", "GJ", "buckling_load", "crushing_pressure", "wall_bending", "frequency"];
const WORST_FIRST = ["fails", "not checked", "caution", "holds"];
const HEADS = { fails: "FAILS", "not checked": "not shown to hold", caution: "holds with cautions", holds: "holds" };

function cell(kind, text, more = {}) {
  const node = document.createElement(kind);
  node.append(text instanceof Node ? text : typeset(text));
  for (const [key, value] of Object.entries(more)) node.setAttribute(key, value);
  return node;
}

const lowestOf = (findings) => findings.filter((one) => one.margin !== null).sort((a, b) => a.margin - b.margin)[0];

// The worst of everything known with the lowest margin of all, then a line each: structure and what else
// was found, mold, and whether the grid pays. mold: findings that come a moment later; null while they are
// awaited, and with them the verdict, unless it fails already.
export function showVerdict(answer, mold, against) {
  const findings = [...answer.verdict.findings, ...(mold?.findings ?? [])];
  const far = (one) => one.margin ?? Infinity;
  findings.sort((a, b) => WORST_FIRST.indexOf(a.word) - WORST_FIRST.indexOf(b.word) || (far(a) === far(b) ? 0 : far(a) - far(b)));
  const word = findings[0]?.word ?? "not checked", place = $("verdict"), awaited = mold === null && word !== "fails";
  for (const kind of ["fails", "not checked", "caution"]) place.classList.toggle(kind.replace(" ", "-"), kind === word && !awaited);
  const lowest = lowestOf(findings), known = lowest ? `; ${mold === null ? `${lowest.area} margin ${lowest.shown}` : `lowest margin ${lowest.shown} (${lowest.area})`}` : "";
  $("margin").textContent = typeset(`${awaited ? "verdict follows" : HEADS[word]}${known}`);
  const lines = findings.map(({ area, word: own, reason }) => [area, own, reason]);
  if (mold === null) lines.push(["mold", "", "checking …"]);
  else if (mold.refused && !mold.findings.some((one) => one.area === "mold")) lines.push(["mold", "", mold.refused]);
  else if (!mold.findings.some((one) => one.area === "mold")) lines.push(["mold", "", "not stated; add [mold] to the file to count it"]);
  lines.push(["grid", "", against || "beside a plain wall of equal mass …"]);
  $("governs").replaceChildren(...lines.map(([area, own, reason]) => {
    const item = document.createElement("li");
    item.dataset.word = own;
    item.append(cell("b", area), own ? ` ${own}: ` : ": ", typeset(reason));
    return item;
  }));
}

// The margin alone, before the verdict on it is in: below 0 it fails whatever else is found. Above, a word
// of the design before may not stand beside it: what held there need not hold here.
export function showMargin(column) {
  const { margin } = column.si, place = $("verdict");
  if (margin < 0) { place.classList.remove("not-checked", "caution"); place.classList.add("fails"); }
  const known = margin === null ? "" : `; structure margin ${column.text.margin}`;
  $("margin").textContent = typeset(`${margin < 0 ? HEADS.fails : "verdict follows"}${known}`);
}

const change = (from, to) => { const share = 100 * (to / from - 1); return Math.abs(share) < 0.05 ? "same" : `${share > 0 ? "+" : "−"}${Math.abs(share).toPrecision(2)} %`; };

// columns: [{title, rename or none, column or null, reason, buttons: [[text, label, deed, place]], differs}]
export function showNumbers(columns) {
  const focused = document.activeElement?.closest?.("#numbers") ? document.activeElement.dataset.place : null;
  const head = document.createElement("tr");
  head.append(cell("td", ""));
  for (const { title, buttons, rename } of columns) {
    const th = cell("th", rename ? "" : title, { scope: "col" });
    if (rename) {
      const name = element("input", { type: "text", value: title, maxLength: 30, "aria-label": `name of ${title}`, class: "name", "data-place": `name ${buttons[0][3]}` });
      name.addEventListener("change", () => rename(name.value.trim() || title));
      th.append(name);
    }
    if (buttons.length) th.append(document.createElement("br"));
    for (const [text, label, deed, at] of buttons) {
      const button = cell("button", text, { type: "button", "aria-label": label, "data-place": at });
      button.addEventListener("click", deed);
      th.append(button);
    }
    head.append(th);
  }
  $("numbers").tHead.replaceChildren(head);
  // The button that was pressed is made anew; the focus stays with its place.
  if (focused) (document.querySelector(`#numbers [data-place="${focused}"]`) ?? document.querySelector("#numbers button"))?.focus();
  const plain = columns.find((c) => c.plain)?.column;
  const rows = ROWS.filter(([key]) => FOLLOW.includes(key) || columns.some(({ column }) => column?.text[key] !== undefined));
  const differing = document.createElement("tr");
  differing.append(cell("th", "differs from this design in", { scope: "row" }), ...columns.map(({ differs }) => cell("td", differs ?? "", { class: "small" })));
  $("numbers").tBodies[0].replaceChildren(...(columns.some(({ differs }) => differs) ? [differing] : []), ...rows.map(([key, label]) => {
    const row = document.createElement("tr");
    row.append(cell("th", label, { scope: "row" }));
    columns.forEach(({ column, reason }, index) => {
      const text = column ? column.text[key] ?? (FOLLOW.includes(key) ? "…" : "") : index === 1 && key === "margin" ? reason : "";
      const td = cell("td", text, { "data-key": key });
      if (column && key === "margin" && column.si.margin !== null && column.si.margin < 0) td.classList.add("fails");
      if (index === 0 && plain && column.si[key] && COMPARED.includes(key)) {
        td.append(" ", cell("span", `×\u00a0${(column.si[key] / plain.si[key]).toFixed(2)}`, { class: "small", title: "times the plain wall of equal mass" }));
      }
      if (column && index > 1 && columns[0].column && typeof column.si[key] === "number" && columns[0].column.si[key] && key !== "margin") td.append(" ", cell("span", change(columns[0].column.si[key], column.si[key]), { class: "small", title: "against this design" }));
      if (column?.text.buckling_mode && key === "buckling_load") td.append(cell("span", `, ${column.text.buckling_mode}`, { class: "small" }));
      if (column?.text.crushing_mode && key === "crushing_pressure" && !column.text.crushing_mode.startsWith("general")) td.append(cell("span", `, ${column.text.crushing_mode}`, { class: "small" }));
      row.append(td);
    });
    return row;
  }));
}

// A bar for each check: the share of the allowable that is used; the line at its end is the limit.
function bar(check) {
  const track = cell("span", "", { class: "track", "aria-hidden": "true" });
  const fill = cell("span", "", { class: check.holds ? "fill" : "fill over" });
  fill.style.width = `${Math.min(100, 100 * (check.use ?? 1) / 1.25)}%`;
  track.append(fill);
  return track;
}

export function showDetails(details) {
  const opened = new Set([...document.querySelectorAll("#checks .why[open]")].map((one) => one.dataset.key));
  const worst = [...details.checks].sort((a, b) => (b.use ?? Infinity) - (a.use ?? Infinity));
  $("checks").tBodies[0].replaceChildren(...worst.map((check) => {
    const row = document.createElement("tr");
    const name = cell("th", "", { scope: "row" }), key = `${check.case} ${check.name}`;
    const why = element("details", { class: "why", open: opened.has(key) }, element("summary", {}, typeset(check.name)), cell("span", check.notes.join("; "), { class: "small" }));
    why.dataset.key = key;
    const use = check.use === null ? "not known" : check.use > 9.99 ? `${check.use.toPrecision(3)} times the allowable` : `${Math.round(100 * check.use)} % used`;
    name.append(why, element("span", { class: "use" }, bar(check), cell("span", `${use}, ${check.case}`, { class: "small" })));
    row.append(name, cell("td", check.margin, check.holds ? {} : { class: "fails" }),
      cell("td", check.allowable), cell("td", check.applied));
    return row;
  }));
  if (!worst.length) $("checks").tBodies[0].append(element("tr", {}, cell("td", "no load case is stated: add one under ‘Everything else in the file’", { colspan: "4" })));
  const lines = [...details.notes, ...details.rounding];
  $("notes").replaceChildren(...lines.map((line) => cell("li", line)));
  $("notes-count").textContent = `(${lines.length})`;
  $("caution").textContent = details.cautions[0];
  $("make-caution").textContent = details.cautions.slice(1).map((line) => line.replace(/\.?$/, ".")).join(" ");
}

export function showMoldAdvice({ checks: advice, refused }) {
  if (!advice.length) {
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
  $("mold-worst").textContent = ["fails", "caution", "not known"].filter(count).map((word) => `${count(word)} × ${word}`).join(", ")
    || "nothing against it";
}
