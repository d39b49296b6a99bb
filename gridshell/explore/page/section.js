// The section of the wall, to scale, with its sizes.

import { add, sized } from "./svg.js";

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
