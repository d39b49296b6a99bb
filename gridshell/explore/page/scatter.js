// Mass against margin of every design that was visited, the pins, the plain wall and the goal.

import { add, Frame, short, signed } from "./svg.js";

const MOST = 400;

export class MassMargin {
  // go(values) puts the page on a design that was visited.
  constructor(svg, said, key, go) {
    Object.assign(this, { svg, said, key, go, visited: new Map(), at: -1, unit: "g" });
    svg.addEventListener("pointermove", (event) => this.tell(this.near(event)));
    svg.addEventListener("pointerleave", () => this.tell(null));
    svg.addEventListener("click", (event) => { const one = this.near(event); if (one) go(one.values); });
    svg.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key], list = this.sorted();
      if (!list.length) return;
      if (by) { this.at = Math.min(list.length - 1, Math.max(0, this.at + by)); this.tell(list[this.at]); this.draw(this.more); }
      else if (event.key === "Enter" && list[this.at]) go(list[this.at].values);
      else return;
      event.preventDefault();
    });
  }

  visit(values, column) {
    if (column.si.margin === null) return;
    const key = JSON.stringify(values);
    this.visited.delete(key);
    this.visited.set(key, { values: { ...values }, mass: column.si.mass, margin: column.si.margin, governs: column.text.governing });
    if (this.visited.size > MOST) this.visited.delete(this.visited.keys().next().value);
  }

  sorted() { return [...this.visited.values()].sort((a, b) => a.mass - b.mass); }

  shown(kilograms) { return this.unit === "lb" ? kilograms / 0.45359237 : kilograms * 1000; }

  near(event) {
    const at = this.frame?.under(event);
    if (!at) return null;
    const far = (one) => Math.hypot(this.frame.x(this.shown(one.mass)) - this.frame.x(at[0]), this.frame.y(one.margin) - this.frame.y(at[1]));
    const best = this.sorted().sort((a, b) => far(a) - far(b))[0];
    return best && far(best) < 14 ? best : null;
  }

  tell(one) {
    this.said.textContent = one ? `${short(this.shown(one.mass))} ${this.unit}, margin ${signed(one.margin)} (${one.governs}); press Enter or click to go there` : "";
  }

  // more: {now, plain, pins: [column], goal: {mass, margin, text}}
  draw(more) {
    this.more = more;
    const list = this.sorted(), { now, plain, pins, goal } = more;
    const places = [...list.map((one) => [one.mass, one.margin]),
      ...[now, plain, ...pins].filter((c) => c && c.si.margin !== null).map((c) => [c.si.mass, c.si.margin]),
      ...(goal ? [[goal.mass, goal.margin]] : [])].map(([mass, margin]) => [this.shown(mass), margin]);
    if (!places.length) { this.key.textContent = "no load case, so no margin to draw"; this.svg.replaceChildren(); return; }
    const span = (k, zero) => {
      const all = places.map((p) => p[k]).concat(zero ? [0] : []), low = Math.min(...all), high = Math.max(...all), room = 0.06 * (high - low) || 0.05 * Math.abs(high) || 1;
      return [low - room, high + room];
    };
    const f = this.frame = new Frame(this.svg, { span: span(0, false), title: `mass [${this.unit}]` }, { span: span(1, true), title: "lowest margin of the load cases" });
    const zero = f.y(0);
    add(this.svg, "path", { d: `M${f.left} ${zero}H${f.left + f.wide}`, class: "zero" });
    f.axes();
    list.forEach((one, index) => {
      const here = { cx: f.x(this.shown(one.mass)), cy: f.y(one.margin) };
      add(this.svg, "circle", { ...here, r: 3, class: one.margin < 0 ? "dot bad" : "dot" });
      if (index === this.at && document.activeElement === this.svg) add(this.svg, "circle", { ...here, r: 8, class: "chosen" });
    });
    const layer = add(this.svg, "g"), at = (c) => c && c.si.margin !== null && [f.x(this.shown(c.si.mass)), f.y(c.si.margin)];
    if (at(plain)) {
      const [x, y] = at(plain);
      add(layer, "path", { d: `M${x - 7} ${y + 6}h14l-7 -13Z`, class: "here" });
      add(layer, "text", { x: x > f.left + f.wide - 80 ? x - 12 : x + 12, y: y - 6, "text-anchor": x > f.left + f.wide - 80 ? "end" : "start", class: "halo" }, "plain wall");
    }
    pins.forEach((column, index) => f.sign(layer, "pin", at(column), String(index + 1)));
    if (goal) f.sign(layer, "goal", [f.x(this.shown(goal.mass)), f.y(goal.margin)], goal.text);
    f.sign(layer, "here", at(now));
    this.key.textContent = `${list.length} designs visited (dots; ringed dots fail), plain wall of equal mass (triangle), pins (numbered squares), goal (star). Left and right keys go through them.`;
  }
}
