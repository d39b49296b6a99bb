// The map of designs: two numbers that can be moved, colored by what comes out.

import { typeset } from "./dom.js";
import { add, Frame, roundLevels, short, signed, sized } from "./svg.js";

const MARGIN_BANDS = [
  [-Infinity, -0.5, "f3", "below −0.5"], [-0.5, -0.2, "f2", "−0.5 to −0.2"], [-0.2, 0, "f1", "−0.2 to 0"],
  [0, 0.3, "h1", "0 to 0.3"], [0.3, 1, "h2", "0.3 to 1"], [1, 3, "h3", "1 to 3"], [3, Infinity, "h4", "above 3"],
];
const WORDS = { fails: "f2", caution: "f1", holds: "h3" };
const CROSSES = "M1 1l6 6M7 1l-6 6M9 5l6 6M15 5l-6 6";

function contours(grid, level, toX, toY) {
  // Marching squares: each cell with corners on both sides gives a line, cells with gaps none.
  let path = "";
  for (let j = 0; j + 1 < grid.length; j++) {
    for (let i = 0; i + 1 < grid[0].length; i++) {
      const corner = [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]];
      const value = corner.map(([a, b]) => grid[b][a]);
      if (value.some((v) => v === null)) continue;
      const cuts = [];
      for (let k = 0; k < 4; k++) {
        const n = (k + 1) % 4;
        if ((value[k] < level) === (value[n] < level)) continue;
        const t = (level - value[k]) / (value[n] - value[k]);
        cuts.push([corner[k][0] + t * (corner[n][0] - corner[k][0]), corner[k][1] + t * (corner[n][1] - corner[k][1])]);
      }
      for (let c = 0; c + 1 < cuts.length; c += 2) {
        path += `M${toX(cuts[c][0]).toFixed(1)} ${toY(cuts[c][1]).toFixed(1)}L${toX(cuts[c + 1][0]).toFixed(1)} ${toY(cuts[c + 1][1]).toFixed(1)}`;
      }
    }
  }
  return path;
}

const nearest = (list, value) => Math.min(list.length - 1, Math.max(0, Math.round((value - list[0]) / (list.at(-1) - list[0]) * (list.length - 1))));

// Round steps of a number that has no bands of its own: pale is little, dark is much.
function stepsOf(grid) {
  const all = grid.flat().filter((v) => v !== null);
  if (!all.length) return [];
  const low = Math.min(...all), high = Math.max(...all);
  if (!(high > low)) return [[-Infinity, Infinity, "s2", short(low)]];
  const levels = roundLevels(low, high, 5).filter((v) => v > low && v < high).slice(0, 5);
  const ends = [-Infinity, ...levels, Infinity];
  return ends.slice(0, -1).map((from, k) => [from, ends[k + 1], `s${k + 1}`,
    k === 0 ? `below ${short(ends[1])}` : k === ends.length - 2 ? `above ${short(from)}` : `${short(from)} to ${short(ends[k + 1])}`]);
}

export class DesignMap {
  // pick(across, up, keys) moves the design.
  constructor(svg, said, key, pick) {
    Object.assign(this, { svg, said, key, data: null, here: null, pins: [], goal: null, color: "margin", mold: null });
    this.spoken = document.getElementById("map-spoken");
    this.signs = document.getElementById("map-signs");
    svg.addEventListener("click", (event) => {
      const at = this.data && this.frame.under(event);
      if (at) pick(...at);
    });
    svg.addEventListener("pointermove", (event) => this.tell(this.data && this.frame.under(event)));
    svg.addEventListener("pointerleave", () => this.tell(null));
    svg.addEventListener("keydown", (event) => {
      const move = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (!move || !this.data || !this.here) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      const to = this.here.map((value, k) => value + far * move[k] * this.step[k]);
      pick(...to, true);
      this.tell(to);
      this.spoken.textContent = this.said.textContent;
    });
  }

  get grid() { return this.color === "stiffness" || this.color === "frequency" || this.color === "mass" ? this.data[this.color].map((row) => row.map((v) => this.inUnit(v))) : this.data.margin; }

  inUnit(value) {
    if (value === null || this.color !== "mass") return value;
    return this.inMassUnit(value);
  }

  inMassUnit(kilograms) { return this.data.mass_unit === "lb" ? kilograms / 0.45359237 : kilograms * 1000; }

  tell(at) {
    if (!at || !this.data) { this.said.textContent = ""; return; }
    const d = this.data, i = nearest(d.across.values, at[0]), j = nearest(d.up.values, at[1]);
    const mass = d.mass[j][i], margin = d.margin[j][i], name = d.names[d.governing[j][i]];
    const more = { stiffness: `, EI per mass ${short(d.stiffness[j][i] ?? 0)} ${d.units.stiffness}`, frequency: `, ${short(d.frequency[j][i] ?? 0)} Hz` }[this.color] ?? "";
    this.said.textContent = mass === null ? "can't be built here"
      : typeset(`${short(at[0])} ${d.across.unit} × ${short(at[1])} ${d.up.unit}`) + `: ${short(this.inMassUnit(mass))} ${d.mass_unit}`
        + (margin === null ? "" : `, margin ${signed(margin)} (${name})`) + more;
  }

  none(reason) {
    this.data = null;
    this.signs.replaceChildren();
    const [width, height] = sized(this.svg);
    add(this.svg, "text", { x: width / 2, y: height / 2, "text-anchor": "middle", class: "faint" }, reason);
    this.said.textContent = "";
    this.key.replaceChildren();
  }

  bands() { return this.color === "margin" ? MARGIN_BANDS : stepsOf(this.grid); }

  kindOf(bands, j, i) {
    if (this.data.mass[j][i] === null) return "none";
    if (this.color === "mold") {
      const rows = this.mold?.length ?? 0;
      if (!rows) return "wait";
      const { mass } = this.data, word = this.mold[Math.round(j / (mass.length - 1) * (rows - 1))];
      return word ? WORDS[word[Math.round(i / (mass[0].length - 1) * (word.length - 1))]] ?? "none" : "wait";
    }
    const value = this.grid2[j][i];
    return value === null ? "wait" : bands.find(([low, high]) => value >= low && value < high)?.[2] ?? "wait";
  }

  draw(data) {
    this.data = data;
    const { across, up } = data;
    const side = (axis) => ({ span: [axis.values[0], axis.values.at(-1)], title: axis.unit ? `${axis.label} [${typeset(axis.unit)}]` : axis.label });
    this.frame = new Frame(this.svg, side(across), side(up));
    const f = this.frame, svg = this.svg;
    const pattern = (id, w, h, d, kind) => add(add(add(svg, "defs"), "pattern", { id, width: w, height: h, patternUnits: "userSpaceOnUse" }), "path", { d, class: kind });
    pattern("fails", 8, 8, "M-1 9L9 -1M-3 3L3 -3M5 11L11 5", "hatch");
    pattern("crosses", 16, 12, CROSSES, "cross");
    add(add(add(svg, "defs"), "clipPath", { id: "frame" }), "rect", { x: f.left, y: f.top, width: f.wide, height: f.high });
    this.said.textContent = "";
    const count = across.values.length, dx = f.wide / (count - 1), dy = f.high / (up.values.length - 1);
    const bands = this.bands();
    this.grid2 = this.grid;
    const clip = (v, low, high) => Math.min(high, Math.max(low, v));
    // One path for each color, not one shape for each design: what many shapes cost is drawn in
    // every frame in which something over them moves.
    const paths = new Map();
    up.values.forEach((value, j) => {
      const y1 = clip(f.y(value) - dy / 2, f.top, f.top + f.high), y2 = clip(f.y(value) + dy / 2, f.top, f.top + f.high);
      const kinds = across.values.map((_, i) => this.kindOf(bands, j, i));
      for (let start = 0, i = 1; i <= count; i++) {
        if (i < count && kinds[i] === kinds[start]) continue;
        const x1 = clip(f.x(across.values[start]) - dx / 2, f.left, f.left + f.wide), x2 = clip(f.x(across.values[i - 1]) + dx / 2, f.left, f.left + f.wide);
        paths.set(kinds[start], `${paths.get(kinds[start]) ?? ""}M${x1.toFixed(1)} ${y1.toFixed(1)}h${(x2 - x1 + 0.4).toFixed(1)}v${(y2 - y1 + 0.4).toFixed(1)}h${(x1 - x2 - 0.4).toFixed(1)}Z`);
        start = i;
      }
    });
    for (const [kind, d] of paths) add(svg, "path", { d, class: `cells ${kind}` });
    const failing = [...paths].filter(([kind]) => kind.startsWith("f")).map(([, d]) => d).join("");
    for (const [name, d] of [["fails", failing], ["crosses", paths.get("none")]]) if (d) add(svg, "path", { d, fill: `url(#${name})` });
    const toX = (i) => f.left + i * dx, toY = (j) => f.top + f.high - j * dy;
    if (data.names.length) {
      add(svg, "path", { d: this.changes(dx, dy), class: "change", "clip-path": "url(#frame)" });
      add(svg, "path", { d: contours(data.margin, 0, toX, toY), class: "zero", "clip-path": "url(#frame)" });
    }
    this.massLines(toX, toY);
    f.axes();
    this.drawKey(bands);
    this.point();
  }

  // Dotted where another check begins to govern.
  changes(dx, dy) {
    let path = "";
    const { governing: g, across, up } = this.data;
    for (let j = 0; j < g.length; j++) {
      for (let i = 0; i < g[0].length; i++) {
        if (g[j][i] < 0) continue;
        const cx = this.frame.x(across.values[i]) + dx / 2, cy = this.frame.y(up.values[j]) - dy / 2;
        if (i + 1 < g[0].length && g[j][i + 1] >= 0 && g[j][i + 1] !== g[j][i]) path += `M${cx.toFixed(1)} ${(cy + dy).toFixed(1)}v${(-dy).toFixed(1)}`;
        if (j + 1 < g.length && g[j + 1][i] >= 0 && g[j + 1][i] !== g[j][i]) path += `M${(cx - dx).toFixed(1)} ${cy.toFixed(1)}h${dx.toFixed(1)}`;
      }
    }
    return path;
  }

  massLines(toX, toY) {
    const f = this.frame, grid = this.data.mass.map((row) => row.map((v) => (v === null ? null : this.inMassUnit(v))));
    const all = grid.flat().filter((v) => v !== null);
    if (!all.length) return;
    let last = null;
    for (const level of roundLevels(Math.min(...all), Math.max(...all), 6)) {
      const path = contours(grid, level, toX, toY);
      if (!path) continue;
      add(this.svg, "path", { d: path, class: "level" });
      const [x, y] = path.split("M").at(-1).split("L")[0].split(" ").map(Number);
      const place = [Math.max(f.left + 24, Math.min(x, f.left + f.wide - 30)), Math.min(Math.max(y + 12, f.top + 12), f.top + f.high - 5)];
      if (last && Math.hypot(place[0] - last[0], place[1] - last[1]) < 34) continue;
      last = place;
      add(this.svg, "text", { x: place[0], y: place[1], "text-anchor": "middle", class: "halo" }, `${short(level)} ${this.data.mass_unit}`);
    }
  }

  // What every color and line of the map means.
  drawKey(bands) {
    const place = this.key, cases = this.data.names.length > 0;
    place.replaceChildren();
    const entry = (draw, text) => {
      const item = document.createElement("span");
      draw(add(item, "svg", { viewBox: "0 0 20 12" }));
      item.append(text);
      place.append(item);
    };
    const piece = (kind, text) => entry((svg) => {
      add(svg, "rect", { width: 20, height: 12, class: kind });
      if (kind.startsWith("f")) add(svg, "path", { d: "M0 12L12 0M8 12L20 0", class: "hatch" });
    }, text);
    const line = (kind, text) => entry((svg) => add(svg, "path", { d: "M0 6H20", class: kind }), text);
    const unit = this.data.units[this.color];
    if (this.color === "margin" && !cases) place.append("no load case in the file, so no margins: ");
    else place.append(`${this.names[this.color]}${unit ? ` [${unit}]` : ""}: `);
    if (this.color === "mold") for (const [word, kind] of Object.entries(WORDS)) piece(kind, word);
    else if (this.color !== "margin" || cases) for (const [, , kind, text] of bands) piece(kind, text);
    if (cases) { line("zero", "margin 0"); line("change", "another check governs"); }
    if (this.data.mold_only.length === 2 && this.color !== "mold") place.append("only the mold depends on these two: color by mold checks. ");
    if (cases && this.color === "margin" && this.data.margin.some((row, j) => row.some((v, i) => v === null && this.data.mass[j][i] !== null))) piece("wait", "margin not known");
    if (this.data.formula_only && this.color === "margin") place.append("some not yet held to the lower bound");
    line("level", "equal mass");
    entry((svg) => { add(svg, "rect", { width: 20, height: 12, class: "none" }); add(svg, "path", { d: CROSSES, class: "cross" }); }, "can't be built");
  }

  // In a layer of its own, so that a move draws the signs anew and not the map under them.
  point() {
    this.signs.replaceChildren();
    if (!this.data || !this.here) return;
    const layer = this.signs, f = this.frame;
    layer.setAttribute("viewBox", this.svg.getAttribute("viewBox"));
    const at = (place) => place && place.every(Number.isFinite) && [f.x(place[0]), f.y(place[1])];
    this.pins.forEach((pin, index) => f.sign(layer, "pin", at(pin), String(index + 1)));
    if (this.goal) f.sign(layer, "goal", at(this.goal.place), this.goal.text);
    f.sign(layer, "here", at(this.here));
  }
}
