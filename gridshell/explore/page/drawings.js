// The section of the wall and the map of designs, as SVG.

const SVG = "http://www.w3.org/2000/svg";

function add(parent, name, attributes = {}, text = null) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== null) node.textContent = text;
  parent.appendChild(node);
  return node;
}

function sized(svg) {
  const box = svg.getBoundingClientRect();
  const width = Math.max(box.width, 200), height = Math.max(box.height, 80);
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  return [width, height];
}

// ---- section ----------------------------------------------------------------------------------

export function drawSection(svg, section) {
  const [width, height] = sized(svg);
  const xs = section.outline.map((p) => p[0]), zs = section.outline.map((p) => p[1]);
  const wide = Math.max(...xs) - Math.min(...xs), deep = Math.max(...zs) - Math.min(...zs);
  const left = 106, right = 88, above = 34, below = 30;
  const scale = Math.min((width - left - right) / wide, (height - above - below) / deep);
  const middleX = left + (width - left - right) / 2;
  const middleZ = (Math.max(...zs) + Math.min(...zs)) / 2;
  const at = (x, z) => [middleX + x * scale, above + (height - above - below) / 2 - (z - middleZ) * scale];
  const points = section.outline.map((p) => at(...p).map((v) => v.toFixed(2)).join(",")).join(" ");
  add(svg, "polygon", { points, class: "wall" });
  const edge = wide / 2, skin = section.skin / 2;
  const label = (x, y, text, anchor, more = {}) => add(svg, "text", { x, y, "text-anchor": anchor, ...more }, text);
  const measure = (a, b) => {
    add(svg, "line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: "measure" });
    const level = Math.abs(a[1] - b[1]) < 0.5;
    for (const p of [a, b]) {
      add(svg, "line", level ? { x1: p[0], x2: p[0], y1: p[1] - 4, y2: p[1] + 4, class: "measure" }
        : { x1: p[0] - 4, x2: p[0] + 4, y1: p[1], y2: p[1], class: "measure" });
    }
  };
  const [skinTop, skinLow] = [at(-edge, skin), at(-edge, -skin)];
  measure([skinTop[0] - 12, skinTop[1]], [skinLow[0] - 12, skinLow[1]]);
  const skinText = label(skinTop[0] - 20, (skinTop[1] + skinLow[1]) / 2 + 4, `skin ${section.skin_text}`, "end");
  const neutral = at(edge, section.neutral);
  add(svg, "line", { x1: at(-edge, 0)[0], x2: neutral[0] + 8, y1: neutral[1], y2: neutral[1], class: "neutral" });
  label(neutral[0] + 12, neutral[1] + 4, "neutral axis", "start", { class: "faint neutral-label" });
  if (!section.ribbed) return;
  const side = section.side, out = skin + section.height;
  const tipEdge = at(section.tip / 2, side * out);
  const rootLevel = at(0, side * skin)[1], x = at(-section.root / 2, 0)[0] - 9;
  measure([x, rootLevel], [x, tipEdge[1]]);
  // A rib and a skin label at the left never share a line: the skin's gives way.
  const ribY = (rootLevel + tipEdge[1]) / 2 + 4, skinY = Number(skinText.getAttribute("y"));
  label(x - 8, ribY, `rib ${section.height_text}`, "end", { class: "halo" });
  if (Math.abs(ribY - skinY) < 14 && x - 8 - 70 < skinTop[0]) skinText.setAttribute("y", ribY + side * 15);
  const neutralText = svg.querySelector(".neutral-label"), far0 = at(0, -side * skin)[1] + side * 10 + (side > 0 ? 15 : -7);
  if (neutralText && Math.abs(Number(neutralText.getAttribute("y")) - far0) < 12) neutralText.setAttribute("y", far0 - side * 14);
  // Widths beyond the tip, pitch beyond the skin, wherever those are up or down.
  const beyondTip = tipEdge[1] - side * 9, tipText = beyondTip + (side > 0 ? -5 : 13);
  label(middleX, tipText, `tip ${section.tip_text}, root ${section.root_text}`, "middle");
  const far = at(0, -side * skin)[1] + side * 10;
  measure([at(-edge, 0)[0], far], [at(edge, 0)[0], far]);
  label(middleX, far + (side > 0 ? 15 : -7), `${section.family} ribs, pitch ${section.pitch_text}`, "middle");
  label(at(edge, 0)[0] + 12, 12, "outside ↑", "start", { class: "faint" });
}

// ---- map --------------------------------------------------------------------------------------

const BANDS = [
  [-Infinity, -0.5, "f3", "below −0.5"], [-0.5, -0.2, "f2", "−0.5 to −0.2"], [-0.2, 0, "f1", "−0.2 to 0"],
  [0, 0.3, "h1", "0 to 0.3"], [0.3, 1, "h2", "0.3 to 1"], [1, 3, "h3", "1 to 3"], [3, Infinity, "h4", "above 3"],
];

const band = (margin) => BANDS.find(([low, high]) => margin >= low && margin < high);

// What every color and line of the map means; data is null where there is no map.
export function drawMapKey(place, data) {
  place.replaceChildren();
  const piece = (kind, text, fails) => {
    const item = document.createElement("span");
    const svg = add(item, "svg", { viewBox: "0 0 20 12" });
    add(svg, "rect", { width: 20, height: 12, class: kind });
    if (fails) add(svg, "path", { d: "M0 12L12 0M8 12L20 0", class: "hatch" });
    item.append(text);
    place.append(item);
  };
  const line = (kind, text) => {
    const item = document.createElement("span");
    add(add(item, "svg", { viewBox: "0 0 20 12" }), "path", { d: "M0 6H20", class: kind });
    item.append(text);
    place.append(item);
  };
  if (!data) return;
  const cases = data.names.length > 0;
  if (cases) {
    place.append("lowest margin: ");
    for (const [, , kind, text] of BANDS) piece(kind, text, kind.startsWith("f"));
    line("zero", "margin 0");
    line("change", "another check governs");
  } else place.append("no load case in the file, so no margins: ");
  line("level", "equal mass");
  const item = document.createElement("span"), svg = add(item, "svg", { viewBox: "0 0 20 12" });
  add(svg, "rect", { width: 20, height: 12, class: "none" });
  add(svg, "path", { d: CROSSES, class: "cross" });
  item.append("can't be built");
  place.append(item);
}
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

function roundLevels(low, high, count) {
  const rough = (high - low) / count, size = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * size).find((s) => s >= rough);
  const levels = [];
  for (let v = Math.ceil(low / step) * step; v < high; v += step) levels.push(Number(v.toPrecision(6)));
  return levels;
}

const short = (value) => Number(value.toPrecision(3)).toString();

export class DesignMap {
  constructor(svg, said, pick) {
    this.svg = svg;
    this.said = said;
    this.spoken = document.getElementById("map-spoken");
    this.data = null;
    this.here = null;
    this.pins = [];
    svg.addEventListener("click", (event) => {
      const at = this.under(event);
      if (at) pick(at.height, at.spacing);
    });
    svg.addEventListener("pointermove", (event) => this.tell(this.under(event)));
    svg.addEventListener("pointerleave", () => this.tell(null));
    svg.addEventListener("keydown", (event) => {
      const move = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (!move || !this.data || !this.here) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1;
      const to = [this.here[0] + far * move[0] * this.step[0], this.here[1] + far * move[1] * this.step[1]];
      pick(...to, true);
      this.tell(this.nearest(to));
      this.spoken.textContent = this.said.textContent;
    });
  }

  scales() {
    const { heights: h, spacings: s } = this.data;
    const x = (v) => this.frame.left + (v - h[0]) / (h.at(-1) - h[0]) * this.frame.wide;
    const y = (v) => this.frame.top + this.frame.high - (v - s[0]) / (s.at(-1) - s[0]) * this.frame.high;
    return [x, y];
  }

  under(event) {
    if (!this.data) return null;
    const box = this.svg.getBoundingClientRect(), f = this.frame;
    const u = (event.clientX - box.left - f.left) / f.wide, v = 1 - (event.clientY - box.top - f.top) / f.high;
    if (u < 0 || u > 1 || v < 0 || v > 1) return null;
    const { heights: h, spacings: s } = this.data;
    return this.nearest([h[0] + u * (h.at(-1) - h[0]), s[0] + v * (s.at(-1) - s[0])]);
  }

  nearest(place) {
    if (!this.data || !place) return null;
    const { heights: h, spacings: s } = this.data;
    const index = (list, value) => Math.min(list.length - 1, Math.max(0,
      Math.round((value - list[0]) / (list.at(-1) - list[0]) * (list.length - 1))));
    return { height: place[0], spacing: place[1], i: index(h, place[0]), j: index(s, place[1]) };
  }

  tell(at) {
    if (!at) { this.said.textContent = ""; return; }
    const d = this.data, mass = d.mass[at.j][at.i], margin = d.margin[at.j][at.i];
    const name = d.names[d.governing[at.j][at.i]];
    this.said.textContent = mass === null ? "can't be built here"
      : `${short(at.height)} × ${short(at.spacing)} ${d.unit}: ${short(this.inMassUnit(mass))} ${d.mass_unit}`
        + (margin === null ? "" : `, margin ${margin >= 0 ? "+" : "−"}${Math.abs(margin).toFixed(2)} (${name})`);
  }

  inMassUnit(kilograms) {
    return this.data.mass_unit === "lb" ? kilograms / 0.45359237 : kilograms * 1000;
  }

  none(reason) {
    this.data = null;
    const [width, height] = sized(this.svg);
    add(this.svg, "text", { x: width / 2, y: height / 2, "text-anchor": "middle", class: "faint" }, reason);
    this.said.textContent = "";
  }

  draw(data) {
    this.data = data;
    drawMapKey(document.getElementById("map-key"), data);
    const [width, height] = sized(this.svg);
    this.frame = { left: 46, top: 8, wide: width - 60, high: height - 46 };
    const f = this.frame, [x, y] = this.scales();
    const { heights: h, spacings: s } = data;
    const dx = f.wide / (h.length - 1), dy = f.high / (s.length - 1);
    const clip = (v, low, high) => Math.min(high, Math.max(low, v));
    const pattern = add(add(this.svg, "defs"), "pattern", { id: "fails", width: 8, height: 8, patternUnits: "userSpaceOnUse" });
    add(pattern, "path", { d: "M-1 9L9 -1M-3 3L3 -3M5 11L11 5", class: "hatch" });
    const crosses = add(add(this.svg, "defs"), "pattern", { id: "crosses", width: 16, height: 12, patternUnits: "userSpaceOnUse" });
    add(crosses, "path", { d: CROSSES, class: "cross" });
    const hold = add(add(this.svg, "defs"), "clipPath", { id: "frame" });
    add(hold, "rect", { x: f.left, y: f.top, width: f.wide, height: f.high });
    this.said.textContent = "";
    const cases = data.names.length > 0;
    const fails = [], none = [];
    s.forEach((spacing, j) => {
      let start = 0;
      const kind = (i) => (data.mass[j][i] === null ? "none" : cases && data.margin[j][i] !== null ? band(data.margin[j][i])[2] : "h1");
      for (let i = 1; i <= h.length; i++) {
        if (i < h.length && kind(i) === kind(start)) continue;
        const x1 = clip(x(h[start]) - dx / 2, f.left, f.left + f.wide), x2 = clip(x(h[i - 1]) + dx / 2, f.left, f.left + f.wide);
        const y1 = clip(y(spacing) - dy / 2, f.top, f.top + f.high), y2 = clip(y(spacing) + dy / 2, f.top, f.top + f.high);
        const box = { x: x1.toFixed(2), y: y1.toFixed(2), width: (x2 - x1 + 0.4).toFixed(2), height: (y2 - y1 + 0.4).toFixed(2) };
        add(this.svg, "rect", { ...box, class: kind(start) });
        if (kind(start).startsWith("f")) fails.push(box);
        if (kind(start) === "none") none.push(box);
        start = i;
      }
    });
    for (const box of none) add(this.svg, "rect", { ...box, fill: "url(#crosses)" });
    for (const box of fails) add(this.svg, "rect", { ...box, fill: "url(#fails)" });
    this.changes(data, x, y, dx, dy);
    const toX = (i) => f.left + i * dx, toY = (j) => f.top + f.high - j * dy;
    if (cases) add(this.svg, "path", { d: contours(data.margin, 0, toX, toY), class: "zero", "clip-path": "url(#frame)" });
    this.massLines(data, toX, toY);
    this.axes(data, x, y);
    this.point();
  }

  // Dotted where another check begins to govern.
  changes(data, x, y, dx, dy) {
    let path = "";
    const g = data.governing;
    for (let j = 0; j < g.length; j++) {
      for (let i = 0; i < g[0].length; i++) {
        if (g[j][i] < 0) continue;
        const cx = x(data.heights[i]) + dx / 2, cy = y(data.spacings[j]) - dy / 2;
        if (i + 1 < g[0].length && g[j][i + 1] >= 0 && g[j][i + 1] !== g[j][i]) path += `M${cx.toFixed(1)} ${(cy + dy).toFixed(1)}v${(-dy).toFixed(1)}`;
        if (j + 1 < g.length && g[j + 1][i] >= 0 && g[j + 1][i] !== g[j][i]) path += `M${(cx - dx).toFixed(1)} ${cy.toFixed(1)}h${dx.toFixed(1)}`;
      }
    }
    add(this.svg, "path", { d: path, class: "change", "clip-path": "url(#frame)" });
  }

  massLines(data, toX, toY) {
    const all = data.mass.flat().filter((v) => v !== null).map((v) => this.inMassUnit(v));
    if (!all.length) return;
    const grid = data.mass.map((row) => row.map((v) => (v === null ? null : this.inMassUnit(v))));
    let last = null;
    for (const level of roundLevels(Math.min(...all), Math.max(...all), 6)) {
      const path = contours(grid, level, toX, toY);
      if (!path) continue;
      add(this.svg, "path", { d: path, class: "level" });
      const [x, y] = path.split("M").at(-1).split("L")[0].split(" ").map(Number);
      const place = [Math.max(this.frame.left + 24, Math.min(x, this.frame.left + this.frame.wide - 30)), Math.min(Math.max(y + 12, this.frame.top + 12), this.frame.top + this.frame.high - 5)];
      if (last && Math.hypot(place[0] - last[0], place[1] - last[1]) < 34) continue;
      last = place;
      add(this.svg, "text", { x: place[0], y: place[1], "text-anchor": "middle", class: "halo" }, `${short(level)} ${data.mass_unit}`);
    }
  }

  axes(data, x, y) {
    const f = this.frame, { heights: h, spacings: s } = data;
    add(this.svg, "rect", { x: f.left, y: f.top, width: f.wide, height: f.high, class: "axis" });
    for (const v of roundLevels(h[0], h.at(-1) * 1.0001, 7)) {
      add(this.svg, "text", { x: x(v), y: f.top + f.high + 14, "text-anchor": "middle" }, short(v));
    }
    for (const v of roundLevels(s[0], s.at(-1) * 1.0001, 5)) {
      add(this.svg, "text", { x: f.left - 5, y: y(v) + 4, "text-anchor": "end" }, short(v));
    }
    add(this.svg, "text", { x: f.left + f.wide / 2, y: f.top + f.high + 31, "text-anchor": "middle" }, `rib height [${data.unit}]`);
    add(this.svg, "text", { x: 12, y: f.top + f.high / 2, "text-anchor": "middle", transform: `rotate(-90 12 ${f.top + f.high / 2})` }, `rib spacing [${data.unit}]`);
  }

  // The design on show (a ring with a cross) and the pins (numbered squares).
  point() {
    this.svg.querySelector("#points")?.remove();
    if (!this.data || !this.here) return;
    const layer = add(this.svg, "g", { id: "points" }), f = this.frame, [x, y] = this.scales();
    const inside = ([a, b]) => a >= f.left - 1 && a <= f.left + f.wide + 1 && b >= f.top - 1 && b <= f.top + f.high + 1;
    this.pins.forEach((pin, index) => {
      const at = pin && [x(pin[0]), y(pin[1])];
      if (!at || !inside(at)) return;
      add(layer, "rect", { x: at[0] - 7, y: at[1] - 7, width: 14, height: 14, class: "here-back" });
      add(layer, "rect", { x: at[0] - 7, y: at[1] - 7, width: 14, height: 14, class: "here" });
      add(layer, "text", { x: at[0], y: at[1] + 4, "text-anchor": "middle", class: "halo" }, String(index + 1));
    });
    const at = [x(this.here[0]), y(this.here[1])];
    if (!inside(at)) return;
    for (const kind of ["here-back", "here"]) {
      add(layer, "circle", { cx: at[0], cy: at[1], r: 7, class: kind });
      add(layer, "path", { d: `M${at[0] - 12} ${at[1]}h24M${at[0]} ${at[1] - 12}v24`, class: kind });
    }
  }
}
