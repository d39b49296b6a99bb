// What the user has set: values as the definition file states them, two pins, undo, the link.

export class State {
  constructor(start) {
    this.start = { ...start };
    this.values = { ...start };
    this.pins = [null, null];
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

  reset() {
    this.values = { ...this.start };
    this.rest();
  }

  // Only what differs from the file, in words a person can read: #ribs.height=5.2+mm&...
  toHash() {
    const words = new URLSearchParams();
    for (const [path, text] of Object.entries(this.values)) {
      if (text !== this.start[path]) words.set(path, text);
    }
    this.pins.forEach((pin, index) => {
      if (!pin) return;
      words.set(`pin${index + 1}`, "yes");
      for (const [path, text] of Object.entries(pin)) {
        if (text !== this.start[path]) words.set(`pin${index + 1}.${path}`, text);
      }
    });
    return words.toString();
  }

  fromHash(hash) {
    const words = new URLSearchParams(hash.replace(/^#/, ""));
    const known = (path) => Object.prototype.hasOwnProperty.call(this.start, path);
    this.values = { ...this.start };
    this.pins = [1, 2].map((n) => (words.get(`pin${n}`) ? { ...this.start } : null));
    for (const [key, text] of words) {
      const pin = key.match(/^pin([12])\.(.+)$/);
      if (pin && this.pins[pin[1] - 1] && known(pin[2])) this.pins[pin[1] - 1][pin[2]] = text;
      else if (known(key)) this.values[key] = text;
    }
  }
}
