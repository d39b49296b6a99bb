// What the user has set: values as the definition file states them, named pins, undo, the link.

export const MOST_PINS = 4;
const CASE = /^case\[\d{1,2}\]\.\w+$/; // a load case may be added on the page
const UNSENT = /^(material|case|target|title|joints)\b/; // what leaves the shape as it is

export class State {
  // start: path -> text of sliders and choices; fields: the same for everything else in the file.
  constructor(start, fields) {
    this.controls = new Set(Object.keys(start));
    this.start = { ...fields, ...start };
    this.values = { ...this.start };
    this.pins = []; // {name, values}
    this.past = [];
    this.future = [];
    this.rested = this.snapshot();
  }

  snapshot() {
    return JSON.stringify({ values: this.values, pins: this.pins });
  }

  // Call when a move has come to rest, so that one drag is one step of undo. Key presses that follow
  // each other within a second on the same control (same `what`) are one step too.
  rest(what = "") {
    const now = this.snapshot(), at = performance.now();
    if (now === this.rested) return;
    if (!what || what !== this.what || at - this.at > 1000) this.past.push(this.rested);
    if (this.past.length > 200) this.past.shift();
    this.future = [];
    this.rested = now;
    this.what = what;
    this.at = at;
  }

  take(snapshot) {
    const held = JSON.parse(snapshot);
    this.values = held.values;
    this.pins = held.pins;
    this.rested = snapshot;
    this.what = "";
  }

  undo() {
    this.rest();
    if (!this.past.length) return false;
    this.future.push(this.rested);
    this.take(this.past.pop());
    return true;
  }

  redo() {
    if (!this.future.length) return false;
    this.past.push(this.rested);
    this.take(this.future.pop());
    return true;
  }

  // What the server must be told: every control, and of the rest what was edited.
  sent(values = this.values) {
    return Object.fromEntries(Object.entries(values).filter(([path, text]) => this.controls.has(path) || text !== (this.start[path] ?? "")));
  }

  // The values on which the shape of tube and mold depends.
  shapeOf(values = this.values) {
    return JSON.stringify(Object.entries(values).filter(([path]) => !UNSENT.test(path)));
  }

  edits(values = this.values) {
    return JSON.stringify(Object.entries(this.sent(values)).filter(([path]) => !this.controls.has(path)));
  }

  // In which values two designs differ: [path, here, there].
  differences(there, here = this.values) {
    const pattern = (values) => values["ribs.pattern"];
    return [...new Set([...Object.keys(here), ...Object.keys(there)])].filter((path) => (here[path] ?? "") !== (there[path] ?? "")).map((path) => [path, here[path] ?? "", there[path] ?? ""])
      .sort(([a]) => (a === "ribs.pattern" && pattern(here) !== pattern(there) ? -1 : 0));
  }

  reset() {
    this.values = { ...this.start };
    this.rest();
  }

  // Only what differs from the file, in words a person can read: #ribs.height=5.2+mm&...
  toHash() {
    const words = new URLSearchParams();
    for (const [path, text] of Object.entries(this.values)) {
      if (text !== (this.start[path] ?? "")) words.set(path, text);
    }
    this.pins.forEach(({ name, values }, index) => {
      words.set(`pin${index + 1}`, name);
      for (const [path, text] of Object.entries(values)) {
        if (text !== (this.start[path] ?? "")) words.set(`pin${index + 1}.${path}`, text);
      }
    });
    return words.toString();
  }

  fromHash(hash) {
    const words = new URLSearchParams(hash.replace(/^#/, ""));
    const known = (path) => Object.prototype.hasOwnProperty.call(this.start, path) || CASE.test(path);
    this.values = { ...this.start };
    const pins = new Map();
    for (const [key, text] of words) {
      const pin = key.match(/^pin([1-4])(?:\.(.+))?$/);
      if (pin && !pin[2]) pins.set(pin[1], { name: text === "yes" ? `pin ${pin[1]}` : text.slice(0, 30), values: { ...this.start } });
      else if (pin && pins.has(pin[1]) && known(pin[2])) pins.get(pin[1]).values[pin[2]] = text;
      else if (known(key)) this.values[key] = text;
    }
    this.pins = [...pins.values()].slice(0, MOST_PINS);
  }
}
