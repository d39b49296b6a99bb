// Sliders, number boxes and choices, made from the list that the server sends.

import { element, typeset, wordRow } from "./dom.js";

const digits = (step) => Math.max(0, Math.min(6, Math.ceil(-Math.log10(step) - 1e-9)));

// Of a step up and one down the one that changes the margin more; up if both do the same.
const far = ({ up, down }) => (up && down ? (Math.abs(down.margin ?? 0) > Math.abs(up.margin ?? 0) * 1.5 ? down : up) : up ?? down);

export const numberOf = (text) => parseFloat(text);

export class Controls {
  // changed(path, text, rested, what): rested is false while a slider is being dragged; what names
  // a row of key presses, which are undone together.
  // touched(path): a slider has the focus or the finger, and may be moved next.
  constructor(form, start, changed, touched) {
    this.form = form;
    this.touched = touched;
    this.rows = new Map();
    form.addEventListener("submit", (event) => event.preventDefault());
    this.movers = element("p", { id: "movers", class: "small" });
    form.append(this.movers);
    for (const choice of start.choices) this.addChoice(choice, changed);
    const places = { main: form };
    for (const [group, title] of [["tube", "Tube"], ["finer", "Finer sizes"]]) {
      places[group] = element("details", { open: innerWidth > 900 && innerHeight > 850 }, element("summary", {}, title));
    }
    for (const slider of start.sliders) places[slider.group].append(this.slider(slider, changed));
    form.append(places.tube, places.finer);
  }

  addChoice(choice, changed) {
    const row = wordRow(choice.path, choice.options, choice.start, choice.label, (value) => changed(choice.path, value, true));
    const wrong = element("p", { class: "wrong", role: "alert" });
    const set = element("fieldset", { title: choice.help, "data-path": choice.path }, element("legend", {}, choice.label), row, wrong);
    this.form.append(set);
    this.rows.set(choice.path, {
      control: choice, node: set, wrong,
      show: (text) => row.querySelectorAll("input").forEach((input) => { input.checked = input.value === text; }),
      mark: (bad) => row.setAttribute("aria-invalid", bad),
    });
  }

  slider(slider, changed) {
    const id = slider.path.replace(".", "-"), places = digits(slider.step);
    const number = element("input", { id, type: "text", inputmode: "decimal", "aria-describedby": `${id}-wrong`, "aria-label": `${slider.label}, ${slider.unit}` });
    const range = element("input", {
      type: "range", min: String(slider.low), max: String(slider.high), step: "any", "aria-label": `${slider.label} slider`,
    });
    const wrong = element("p", { class: "wrong", id: `${id}-wrong`, role: "alert" });
    const snapped = (value) => {
      const steps = Math.round((value - slider.low) / slider.step);
      const on = Math.min(slider.high, Math.max(slider.low, slider.low + steps * slider.step));
      return Number(on.toFixed(places + 1)).toString();
    };
    const unit = element("span", { class: "unit" }, typeset(slider.unit));
    const step = element("p", { class: "step", id: `${id}-step` });
    const built = element("span", { class: "built" }), ticks = element("span", { class: "ticks", "aria-hidden": "true" });
    // What the slider stands at, in its unit, whatever unit was typed.
    let current = numberOf(slider.start);
    const stand = (value) => {
      current = value;
      range.value = value;
      range.setAttribute("aria-valuetext", typeset(`${Number(value.toPrecision(5))} ${slider.unit}`));
    };
    const moveTo = (value, rested, what) => {
      stand(Number(value));
      number.value = value;
      unit.hidden = false;
      changed(slider.path, `${value} ${slider.unit}`, rested, what);
    };
    const dragged = (rested) => moveTo(snapped(Number(range.value)), rested);
    for (const kind of ["focus", "pointerenter"]) range.addEventListener(kind, () => this.touched(slider.path));
    range.addEventListener("input", () => dragged(false));
    range.addEventListener("change", () => dragged(true));
    range.addEventListener("keydown", (event) => {
      // One step a key, ten with shift or page keys; the browser's own step would follow the span.
      const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
      if (!by) return;
      event.preventDefault();
      moveTo(snapped(current + by * (event.shiftKey ? 10 : 1) * slider.step), true, `keys ${slider.path}`);
    });
    number.addEventListener("change", () => {
      const text = number.value.trim().replace(",", "."), plain = /^[-+]?[\d.]+(e[-+]?\d+)?$/i.test(text);
      number.value = text;
      unit.hidden = !plain;
      if (plain && Number.isFinite(Number(text))) stand(Number(text));
      changed(slider.path, plain ? `${text} ${slider.unit}` : text, true);
    });
    const node = element("div", { class: "slider", title: slider.help, "data-path": slider.path },
      element("label", { for: id }, slider.label),
      element("span", { class: "number" }, built, number, unit), range, ticks, step, wrong);
    this.rows.set(slider.path, {
      control: slider, node, wrong, snapped, step,
      // What so many steps from where it stands would state.
      stepped: (by) => `${snapped(current + by * slider.step)} ${slider.unit}`,
      show: (text) => {
        const own = text.endsWith(` ${slider.unit}`);
        number.value = own ? text.slice(0, -slider.unit.length - 1) : text;
        unit.hidden = !own;
        if (own) stand(numberOf(text));
      },
      // What the server read, in the slider's unit; a thumb that is being dragged is left alone.
      stand: (value) => { if (document.activeElement !== range || unit.hidden) stand(value); },
      mark: (bad) => number.setAttribute("aria-invalid", bad),
      // Other ends, where another field of the file decides them.
      reach: (now) => {
        if (slider.low === now.low && slider.high === now.high && slider.step === now.step) return;
        Object.assign(slider, { low: now.low, high: now.high, step: now.step });
        Object.assign(range, { min: String(now.low), max: String(now.high) });
        stand(current);
      },
      // What whole cells make of it, and ticks where their number changes.
      cells: (found) => {
        built.textContent = found && !found.same ? typeset(`→ ${found.built}`) : "";
        built.title = "built, rounded to whole cells";
        const share = (value) => (value - slider.low) / (slider.high - slider.low);
        ticks.replaceChildren(...(found?.ticks ?? []).map((value) => {
          const tick = element("i");
          tick.style.left = `calc(${(100 * share(value)).toFixed(2)}% + ${(8 - 16 * share(value)).toFixed(1)}px)`;
          return tick;
        }));
        ticks.hidden = !found?.ticks.length;
      },
    });
    return node;
  }

  show(values) {
    for (const [path, row] of this.rows) {
      row.show(values[path]);
      row.node.hidden = !row.control.patterns.includes(values["ribs.pattern"]);
    }
  }

  // set: path -> what each slider stands at, in its unit.
  stand(set) {
    for (const [path, value] of Object.entries(set)) this.rows.get(path)?.stand?.(value);
  }

  // whole: path -> what whole cells make of a spacing.
  cells(whole) {
    for (const [path, row] of this.rows) row.cells?.(whole[path]);
  }

  reach(sliders) {
    for (const slider of sliders) this.rows.get(slider.path)?.reach(slider);
  }

  // moves: what a step of each slider does, what moves most first.
  tellMoves(moves) {
    for (const row of this.rows.values()) if (row.step) row.step.textContent = "";
    const anyMargin = moves.some((one) => far(one)?.margin);
    moves.forEach(({ path, up, down }) => {
      const row = this.rows.get(path), way = far({ up, down });
      if (!row?.step || !way) return;
      row.step.textContent = typeset(`${way === up ? "+" : "−"}${row.control.step} ${row.control.unit}: ${way.text}`);
    });
    const first = moves.filter((one) => (anyMargin ? far(one)?.margin : far(one)?.mass)).slice(0, 3);
    if (!first.length) return;
    const line = this.movers;
    line.replaceChildren(`largest effect on the ${anyMargin ? "margin" : "mass"}: `);
    for (const { path } of first) {
      const { control } = this.rows.get(path), button = element("button", { type: "button" }, control.label);
      button.addEventListener("click", () => {
        const { node } = this.rows.get(path);
        if (node.parentElement.tagName === "DETAILS") node.parentElement.open = true;
        node.querySelector("[type=range]").focus();
      });
      line.append(button);
    }
  }

  // Puts each problem beside its control; returns those that belong to none.
  complain(problems) {
    const rest = [];
    for (const row of this.rows.values()) { row.wrong.textContent = ""; row.mark(false); }
    for (const problem of problems) {
      const row = this.rows.get(problem.path);
      if (!row || row.node.hidden) { rest.push(problem); continue; }
      row.wrong.textContent = problem.message;
      row.mark(true);
    }
    return rest;
  }
}
