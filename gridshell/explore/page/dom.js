// Small pieces that every part of the page is made of.

export const $ = (id) => document.getElementById(id);

export function element(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key in node && typeof value !== "string") node[key] = value;
    else node.setAttribute(key, value);
  }
  node.append(...children);
  return node;
}

// Powers and signs as print has them.
export const typeset = (text) => String(text).replace(/delta_(?=deg)/g, "").replace(/deg([CF])\b/g, "°$1").replace(/ ?\bdeg\b/g, "°").replace(/\^2/g, "²").replace(/\^3/g, "³").replace(/(^|[\s(])-(?=\d)/g, "$1−").replace(/(\d[^,;]*?) x (?=\d)/g, "$1 × ").replace(/ x(?=\d)/g, " ×");

// When what was changed by now is on the screen.
export const nextFrame = () => new Promise((go) => requestAnimationFrame(() => setTimeout(go)));
export const pause = (ms) => new Promise((go) => setTimeout(go, ms));

// A row of words of which one is chosen.
export function wordRow(name, options, chosen, label, changed) {
  const group = element("span", { class: "group", role: "radiogroup", "aria-label": label });
  for (const option of options) {
    const [value, text] = Array.isArray(option) ? option : [option, option];
    const input = element("input", { type: "radio", name, value, checked: value === chosen });
    input.addEventListener("change", () => changed(value));
    group.append(element("label", {}, input, text));
  }
  return group;
}
