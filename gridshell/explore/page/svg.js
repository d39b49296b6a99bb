// Pieces of SVG that the drawings share.

const SVG = "http://www.w3.org/2000/svg";

export function add(parent, name, attributes = {}, text = null) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== null) node.textContent = text;
  parent.appendChild(node);
  return node;
}

// The pixels that something has, without asking for the layout anew in the middle of a move.
const boxes = new WeakMap();
const watching = new ResizeObserver((entries) => {
  for (const { target, contentRect: { width, height } } of entries) boxes.set(target, { width, height });
});
export function boxOf(node) {
  if (!boxes.get(node)?.width) { // not known yet, or hidden when last looked at
    const { width, height } = node.getBoundingClientRect();
    boxes.set(node, { width, height });
    watching.observe(node);
  }
  return boxes.get(node);
}

// Empties a drawing and fits its units to the pixels it has.
export function sized(svg) {
  const box = boxOf(svg);
  const width = Math.max(box.width, 200), height = Math.max(box.height, 80);
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  return [width, height];
}

export function roundLevels(low, high, count) {
  if (!(high > low)) return [];
  const rough = (high - low) / count, size = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * size).find((s) => s >= rough * 0.9999);
  const levels = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + 1e-9 * step; v += step) levels.push(Number(v.toPrecision(6)));
  return levels;
}

export const short = (value) => { const round = Number(value.toPrecision(3)); return Math.abs(round) >= 1e5 ? round.toLocaleString("en") : round.toString(); };
const tick = (value) => short(value).replace("-", "−");
export const signed = (value, digits = 2) => `${value >= 0 ? "+" : "−"}${Math.abs(value).toFixed(digits)}`;

// Scales from values to pixels, and the frame with its numbers and names.
export class Frame {
  constructor(svg, across, up, { left = 48, top = 8, right = 12, bottom = 38 } = {}) {
    const [width, height] = sized(svg);
    Object.assign(this, { svg, across, up, left, top, wide: width - left - right, high: height - top - bottom });
  }

  x(v) { const [a, b] = this.across.span; return this.left + (v - a) / (b - a) * this.wide; }
  y(v) { const [a, b] = this.up.span; return this.top + this.high - (v - a) / (b - a) * this.high; }

  // The values under a place in the window; null outside the frame.
  under(event) {
    const box = this.svg.getBoundingClientRect();
    const u = (event.clientX - box.left - this.left) / this.wide, v = 1 - (event.clientY - box.top - this.top) / this.high;
    if (u < 0 || u > 1 || v < 0 || v > 1) return null;
    const { across: { span: [a, b] }, up: { span: [c, d] } } = this;
    return [a + u * (b - a), c + v * (d - c)];
  }

  inside([a, b]) { return a >= this.left - 1 && a <= this.left + this.wide + 1 && b >= this.top - 1 && b <= this.top + this.high + 1; }

  axes() {
    add(this.svg, "rect", { x: this.left, y: this.top, width: this.wide, height: this.high, class: "axis" });
    for (const v of roundLevels(...this.across.span, 6)) { // the last one may not reach beyond the drawing
      const x = this.x(v), last = x + 4 * short(v).length > this.left + this.wide + 10;
      add(this.svg, "text", { x: last ? this.left + this.wide + 10 : x, y: this.top + this.high + 14, "text-anchor": last ? "end" : "middle" }, tick(v));
    }
    for (const v of roundLevels(...this.up.span, 5)) add(this.svg, "text", { x: this.left - 5, y: this.y(v) + 4, "text-anchor": "end" }, tick(v));
    add(this.svg, "text", { x: this.left + this.wide / 2, y: this.top + this.high + 31, "text-anchor": "middle" }, this.across.title);
    const y = this.top + this.high / 2;
    add(this.svg, "text", { x: 11, y, "text-anchor": "middle", transform: `rotate(-90 11 ${y})` }, this.up.title);
  }

  // Signs of designs: the one on show (ring with cross), pins (numbered squares), the goal's (star).
  sign(layer, kind, at, label = "") {
    if (!at || !this.inside(at)) return;
    const [x, y] = at;
    if (kind === "pin") add(layer, "rect", { x: x - 7, y: y - 7, width: 14, height: 14, class: "here-fill" });
    for (const look of ["here-back", "here"]) {
      if (kind === "pin") add(layer, "rect", { x: x - 7, y: y - 7, width: 14, height: 14, class: look });
      else if (kind === "goal") add(layer, "path", { d: star(x, y), class: look });
      else {
        add(layer, "circle", { cx: x, cy: y, r: 7, class: look });
        add(layer, "path", { d: `M${x - 12} ${y}h24M${x} ${y - 12}v24`, class: look });
      }
    }
    if (kind === "pin") add(layer, "text", { x, y: y + 4, "text-anchor": "middle", class: "halo" }, label);
    if (kind === "goal") add(layer, "text", { x: x + 12, y: y - 8, class: "halo" }, label);
  }
}

function star(x, y) {
  const points = [...Array(10).keys()].map((k) => {
    const r = k % 2 ? 4 : 10, a = Math.PI * (k / 5 - 0.5);
    return `${(x + r * Math.cos(a)).toFixed(1)} ${(y + r * Math.sin(a)).toFixed(1)}`;
  });
  return `M${points.join("L")}Z`;
}
