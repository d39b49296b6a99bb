// Sizes, a scale and names drawn over the solid view.

import { typeset } from "./dom.js";
import { add, boxOf } from "./svg.js";

const PIECES = { core: "core half", cavity: "cavity half", part: "casting", rest: "casting" };

function line(svg, a, b, text) {
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (length < 6) return;
  const [u, v] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
  add(svg, "path", { d: `M${a[0]} ${a[1]}L${b[0]} ${b[1]}M${a[0] - 5 * v} ${a[1] + 5 * u}l${10 * v} ${-10 * u}M${b[0] - 5 * v} ${b[1] + 5 * u}l${10 * v} ${-10 * u}`, class: "measure" });
  const x = (a[0] + b[0]) / 2, y = (a[1] + b[1]) / 2, steep = Math.abs(v) > 0.7;
  label(svg, steep ? x + 6 : x, steep ? y + 4 : y + 15, text, steep ? "start" : "middle");
}

function label(svg, x, y, text, anchor = "middle") {
  const { width, height } = boxOf(svg);
  const node = add(svg, "text", { y: Math.min(Math.max(y, 12), height - 5), "text-anchor": anchor, class: "halo" }, typeset(text));
  const wide = node.getComputedTextLength() + 2;
  const low = { start: 2, middle: wide / 2, end: wide }[anchor], high = width - { start: wide, middle: wide / 2, end: 2 }[anchor];
  node.setAttribute("x", Math.min(Math.max(x, low), Math.max(high, low)));
}

function scale(svg, perMillimeter, inch) {
  const unit = inch ? 25.4 : 1, most = 110 / perMillimeter / unit, size = 10 ** Math.floor(Math.log10(most));
  const round = [5, 2, 1].map((m) => m * size).find((v) => v <= most) ?? size, wide = round * unit * perMillimeter;
  add(svg, "path", { d: `M10 8v6h${wide}v-6`, class: "measure" }); // the tube leaves that corner free
  add(svg, "text", { x: 10 + wide + 6, y: 14, class: "halo" }, `${Number(round.toPrecision(2))} ${inch ? "in" : "mm"}`);
}

// seen: what the view tells after it has painted; head: the scene's dimensions.
export function drawOverlay(svg, seen, { dimensions = [], names = false, locks = null, inch = false }) {
  svg.replaceChildren();
  if (!seen) return;
  svg.setAttribute("viewBox", `0 0 ${seen.width} ${seen.height}`);
  for (const { from, to, text } of dimensions) line(svg, seen.pixel(from), seen.pixel(to), text);
  scale(svg, seen.perMillimeter, inch);
  if (names) {
    const said = new Set();
    for (const [body, model] of seen.list) {
      const name = PIECES[body.name] ?? (body.name.startsWith("ribbed") ? null : body.name.replaceAll("-", " "));
      if (!name || said.has(name)) continue;
      said.add(name);
      const middle = [0, 1, 2].map((k) => (body.low[k] + body.high[k]) / 2), top = middle.with(2, body.high[2] * 0.9 + body.low[2] * 0.1);
      const at = [0, 1, 2].map((r) => model[r] * body.low[0] + model[4 + r] * top[1] + model[8 + r] * top[2] + model[12 + r]);
      const [x, y] = seen.pixel(at);
      label(svg, x - 6, y, name, "end");
    }
  }
  if (locks) {
    const [x, y] = seen.pixel(locks.place);
    add(svg, "path", { d: `M${x} ${y}l24 -22`, class: "measure" });
    label(svg, x + 26, y - 24, locks.text, "start");
  }
}
