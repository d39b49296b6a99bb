// The upper picture: a map over any two numbers, or mass against margin of what was visited.

import { DesignMap } from "./chart.js";
import { numberOf } from "./controls.js";
import { $, element, nextFrame, pause, wordRow } from "./dom.js";
import { Latest, post, Refused } from "./server.js";
import { MassMargin } from "./scatter.js";

// Designs along each axis: coarse while moving where this machine takes too long over the fine map.
const COARSE = 11, FINE = 28, MOLD = 7;
const AHEAD = 8, SLOW_AHEAD = 2, KEPT = 60; // maps of so many steps up and down are asked for while nothing moves

// The nearest number that a step of an axis leads to, within its ends.
function snapped(axis, value) {
  const on = Math.min(axis.high, Math.max(axis.low, axis.low + Math.round((value - axis.low) / axis.step) * axis.step));
  return Number(on.toPrecision(9)).toString();
}

export class Pictures {
  // pick(changes, keys) moves the design; go(values) puts the page on one.
  constructor(start, state, controls, { pick, go, troubled, drawn }) {
    Object.assign(this, { start, state, controls, shown: "map", axes: ["ribs.height", "ribs.spacing"], wanted: ["ribs.height", "ribs.spacing"], mapFor: "", fineFor: "", set: {}, goal: null, count: FINE, ahead: new Map() });
    this.reach(start.axes);
    this.map = new DesignMap($("map"), $("map-said"), $("map-key"), (across, up, keys) => {
      const changes = {};
      if (![across, up].every(Number.isFinite)) return; // where it stands is not known yet
      [across, up].forEach((value, k) => {
        const axis = this.known[this.axes[k]];
        changes[axis.path] = `${snapped(axis, value)} ${axis.unit}`.trim();
      });
      pick(changes, keys);
    });
    this.map.names = start.colors;
    this.scatter = new MassMargin($("mass-margin"), $("map-said"), $("map-key"), go);
    this.scatter.unit = start.units === "inch" ? "lb" : "g";
    $("picture-choices").replaceWith(wordRow("picture", [["map", "map"], ["mass", "mass against margin"]], "map", "picture", (word) => this.show(word)));
    for (const [k, name] of [[0, "across"], [1, "up"]]) {
      $(`map-${name}`).addEventListener("change", () => {
        const wanted = $(`map-${name}`).value;
        if (this.axes[1 - k] === wanted) this.axes[1 - k] = this.axes[k]; // they change places
        this.axes[k] = wanted;
        this.wanted = [...this.axes];
        this.listAxes(this.values);
        this.draw(this.values, performance.now());
        this.fine(this.values);
      });
    }
    $("map-color").replaceChildren(...Object.entries(start.colors).map(([key, text]) => element("option", { value: key }, text)));
    $("map-color").addEventListener("change", () => {
      this.map.color = $("map-color").value;
      if (this.map.data) this.map.draw(this.map.data);
      this.rows();
    });
    if (!Object.entries(state.values).some(([path, text]) => /^case\[\d+\]\.name$/.test(path) && text)) this.map.color = $("map-color").value = "mass"; // no case, no margin
    this.ready = Promise.resolve(); // once the map of the last move is on the screen
    this.mapping = new Latest(async ({ values, since, quick, axes }) => {
      let there;
      if (quick) this.ready = new Promise((go) => { there = go; });
      const asked = performance.now(), count = quick ? this.count : FINE;
      try {
        const data = await post("/map", { values: state.sent(values), count, quick, ...this.asked(axes) });
        const took = performance.now() - asked;
        // The first one waits for a process that is still loading.
        if (quick && this.map.data) this.count = took > (count === FINE ? 120 : 40) ? COARSE : FINE;
        if (axes.join() !== this.axes.join()) return;
        this.put(data);
        drawn(quick ? "map" : "fine", since);
      } catch (error) {
        this.mapFor = "";
        if (!(error instanceof Refused)) troubled(error);
        else this.map.none(error.message);
      }
      if (quick) nextFrame().then(there);
    });
    this.troubled = troubled;
  }

  // The axes as the server is asked for them.
  asked(axes = this.axes) { return { across: axes[0], up: axes[1] }; }

  mapped(values) { return this.choices(values).length > 1; }

  choices(values) { return Object.values(this.known).filter((axis) => axis.patterns.includes(values["ribs.pattern"])); }

  // The axes there are once other fields of the file are edited: another case, other ends.
  reach(axes) {
    this.known = Object.fromEntries(axes.map((axis) => [axis.path, axis]));
    if (!this.values) return;
    const before = this.axes.join();
    this.listAxes(this.values);
    if (this.axes.join() !== before) this.draw(this.values, performance.now());
  }

  // Only what the pattern has may be an axis.
  listAxes(values) {
    const known = this.choices(values);
    // Those that were chosen, as soon as the pattern has them again; else the first that it has.
    const has = (path) => known.some((axis) => axis.path === path);
    const kept = this.wanted.map((path, k) => (has(path) ? path : has(this.axes[k]) && !this.wanted.includes(this.axes[k]) ? this.axes[k] : ""));
    kept.forEach((path, k) => { kept[k] = path || ["ribs.spacing", ...known.map((axis) => axis.path)].find((one) => has(one) && !kept.includes(one)); });
    this.axes = kept;
    const groups = [...new Set(known.map((axis) => axis.group))];
    ["across", "up"].forEach((name, k) => {
      $(`map-${name}`).replaceChildren(...groups.map((group) => element("optgroup", { label: group }, ...known.filter((axis) => axis.group === group).map((axis) => element("option", { value: axis.path }, axis.label)))));
      $(`map-${name}`).value = this.axes[k];
    });
    this.map.step = this.axes.map((path) => this.known[path].step);
  }

  place(values) {
    return this.axes.map((path) => {
      const text = values[path] ?? "", unit = this.known[path]?.unit;
      return unit && text.endsWith(` ${unit}`) ? numberOf(text) : values === this.values ? this.set[path] ?? NaN : unit === "" && text && !text.endsWith("%") ? numberOf(text) : NaN;
    });
  }

  // A move: the map where it can change, its signs always.
  draw(values, since) {
    const before = this.values?.["ribs.pattern"];
    this.values = values;
    if (before !== values["ribs.pattern"]) this.listAxes(values);
    this.signs();
    const key = this.keyOf(values), known = this.ahead.get(key);
    if (key === this.mapFor && this.map.data) { this.map.point(); return true; }
    this.mapFor = key;
    this.map.mold = null;
    if (known) { this.put(known); return true; }
    this.mapping.call({ values, since, quick: true, axes: [...this.axes] });
    return false;
  }

  // The map is the same wherever in it the design stands.
  keyOf(values) { return JSON.stringify([this.axes, { ...values, [this.axes[0]]: 0, [this.axes[1]]: 0 }]); }

  put(data) {
    Object.assign(this.set, data.set);
    this.signs();
    this.map.draw(data);
    this.rows();
  }

  // What a slider may be moved to next, the nearest steps first; ends with the next move.
  async foresee(path, values, stepped, busy) {
    const { mapFor } = this;
    for (let step = 1; step <= (this.count === FINE ? AHEAD : SLOW_AHEAD); step++) {
      for (const way of [step, -step]) {
        while (busy()) await pause(40);
        const text = stepped(way), next = { ...values, [path]: text }, key = this.keyOf(next);
        if (mapFor !== this.mapFor || this.axes.includes(path)) return;
        if (!text || key === mapFor || this.ahead.has(key)) continue;
        try { this.ahead.set(key, await post("/map", { values: this.state.sent(next), count: FINE, quick: true, ...this.asked() })); } catch { return; }
        if (this.ahead.size > KEPT) this.ahead.delete(this.ahead.keys().next().value);
      }
    }
  }

  signs() {
    const { values, map } = this, pattern = values["ribs.pattern"];
    map.here = this.place(values);
    map.pins = this.state.pins.map((pin) => pin.values["ribs.pattern"] === pattern && this.place(pin.values));
    const found = this.goal?.values;
    map.goal = found && found["ribs.pattern"] === pattern && found["ribs.side"] === values["ribs.side"] ? { place: this.place({ ...values, ...found }), text: "goal" } : null;
  }

  fine(values) {
    if (this.fineFor === this.mapFor) return;
    this.fineFor = this.mapFor;
    this.mapping.call({ values, since: performance.now(), quick: false, axes: [...this.axes] });
  }

  // The mold's verdict takes a tenth of a second each design, so its map comes a row at a time.
  async rows() {
    if (this.map.color !== "mold" || this.map.mold || this.working) return;
    const key = this.mapFor, values = this.values, rows = this.map.mold = Array(MOLD).fill(null);
    this.working = true;
    try {
      for (let row = 0; row < MOLD; row++) {
        const words = await post("/mold-row", { values: this.state.sent(values), count: MOLD, row, ...this.asked() });
        if (!words.length) { rows.length = row; break; } // whole numbers may be fewer
        if (key !== this.mapFor || this.map.color !== "mold") break;
        rows[row] = words;
        if (this.map.data) this.map.draw(this.map.data);
      }
    } catch (error) { if (!(error instanceof Refused)) this.troubled(error); }
    this.working = false;
    if (key !== this.mapFor) this.rows();
  }

  show(word) {
    this.shown = word;
    $("map-layers").hidden = word !== "map";
    $("map-axes").hidden = word !== "map";
    $("mass-margin").toggleAttribute("hidden", word !== "mass");
    this.redraw();
  }

  redraw() {
    if (this.shown === "mass") { if (this.more) this.scatter.draw(this.more); }
    else if (this.map.data) this.map.draw(this.map.data);
  }

  // The numbers are known: the design is one more that was visited.
  visit(values, answer, pins, plain) {
    Object.assign(this.set, answer.set);
    this.scatter.visit(values, answer.now);
    this.tellMore(answer.now, plain, pins);
    if (this.map.data) { this.signs(); this.map.point(); }
  }

  tellMore(now, plain, pins) {
    const goal = this.goal && this.goal.margin !== null ? { mass: this.goal.mass, margin: this.goal.margin, text: "goal" } : null;
    this.more = { now, plain, pins, goal };
    if (this.shown === "mass") this.scatter.draw(this.more);
  }
}
