// Every field of the definition file that is no slider, made from its declaration.

import { element, typeset } from "./dom.js";

const NAMES = {
  "": "title", material: "material", tube: "tube", ribs: "ribs, further", skin: "skin", mold: "mold", "mold.casting": "filling and opening the mold",
  target: "limits of a search", joints: "joints", "joints.bond": "bond", "joints.seam": "seams", "joints.end": "end joints", as_built: "the tube as it was built", body: "body", chill: "cooling",
};
const OPTIONS = { "ribs.formula": { fat: "fat (finite rib width)", thin: "thin (ribs as bars)" } };
const OF_MATERIAL = /^material\.(modulus|poisson|density|strength)$/; // known without being stated
const spoken = (name) => name.replaceAll("_", " ");
const example = (text) => (/'([^']+)'/.exec(text) ? `e.g. ${/'([^']+)'/.exec(text)[1]}` : "");
const tableOf = (path) => path.split(".").slice(0, -1).join(".");

export class Fields {
  // changed(path, text) when a field has been edited; goal: paths that the goal shows instead.
  constructor(form, start, goal, changed) {
    Object.assign(this, { form, start, changed, rows: new Map(), known: new Map(start.fields.map((f) => [f.path, f])) });
    form.addEventListener("submit", (event) => event.preventDefault());
    const tables = new Map();
    for (const field of start.fields) {
      if (field.path.startsWith("case[") || goal.includes(field.path)) continue;
      const name = tableOf(field.path);
      if (!tables.has(name)) tables.set(name, element("details", {}, element("summary", {}, NAMES[name] ?? name)));
      tables.get(name).append(this.row(field));
    }
    this.cases = element("details", { open: false }, element("summary", {}, "load cases"));
    form.append(this.cases, ...tables.values());
  }

  // A row for one field; also used for those that the goal shows.
  row(field, label = spoken(field.path.split(".").at(-1)), like = field.default || (OF_MATERIAL.test(field.path) ? "from its data" : example(field.example))) {
    const id = `field-${field.path.replace(/[^\w]/g, "-")}`, text = field.text || field.default;
    const known = field.form === "choice" ? field.options : field.form === "flag" ? ["true", "false"] : null;
    const box = known ? element("select", { id }, ...(field.text || field.default ? [] : [element("option", { value: "" }, "–")]), ...known.map((word) => element("option", { value: word }, OPTIONS[field.path]?.[word] ?? word)))
      : element("input", { id, type: "text", spellcheck: false, maxLength: 200, placeholder: typeset(like) });
    const wrong = element("p", { class: "wrong", id: `${id}-wrong`, role: "alert" });
    box.setAttribute("aria-describedby", `${id}-wrong`);
    box.addEventListener("change", () => this.changed(field.path, known && box.value === field.default && !field.text ? "" : box.value.trim()));
    const show = (now) => { box.value = known ? now || field.default : now; };
    show(field.text);
    const node = element("div", { class: "field", title: field.help, "data-path": field.path }, element("label", { for: id }, label), box, wrong);
    this.rows.set(field.path, { node, wrong, show, mark: (bad) => box.setAttribute("aria-invalid", bad), text });
    return node;
  }

  // The load cases as they are stated now, and a button for one more.
  showCases(values) {
    const numbers = [...new Set(Object.keys(values).map((path) => path.match(/^case\[(\d+)\]/)?.[1]).filter(Boolean).map(Number))].sort((a, b) => a - b);
    const there = numbers.filter((n) => values[`case[${n}].name`]);
    if (JSON.stringify(there) !== this.there) {
      this.there = JSON.stringify(there);
      for (const path of [...this.rows.keys()]) if (path.startsWith("case[")) this.rows.delete(path);
      const sets = there.map((n) => {
        const title = element("summary", {}, values[`case[${n}].name`]);
        const gone = element("button", { type: "button", "aria-label": `Leave out this case: ${values[`case[${n}].name`]}` }, "Leave out this case");
        gone.addEventListener("click", () => this.changed(`case[${n}].name`, ""));
        const rows = this.start.case_fields.map((field) => {
          const path = `case[${n}].${field.path}`;
          return this.row(this.known.get(path) ?? { ...field, path });
        });
        return element("details", { class: "case" }, title, ...rows, gone);
      });
      const more = element("button", { type: "button" }, "Add a load case");
      more.addEventListener("click", () => this.changed(`case[${(numbers.at(-1) ?? 0) + 1}].name`, `case ${(numbers.at(-1) ?? 0) + 1}`));
      this.cases.replaceChildren(this.cases.firstChild, ...sets, ...(numbers.length < 20 ? [more] : []));
    }
  }

  show(values) {
    this.showCases(values);
    for (const [path, row] of this.rows) row.show(values[path] ?? "");
  }

  // Puts each problem at its field; returns those that belong to none.
  complain(problems) {
    const rest = [];
    for (const row of this.rows.values()) { row.wrong.textContent = ""; row.mark(false); }
    for (const problem of problems) {
      const row = this.rows.get(problem.path);
      if (!row) { rest.push(problem); continue; }
      row.wrong.textContent = problem.message;
      row.mark(true);
      for (let node = row.node.parentElement; node; node = node.parentElement) if (node.tagName === "DETAILS") node.open = true;
    }
    return rest;
  }
}
