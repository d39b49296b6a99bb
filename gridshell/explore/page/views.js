// The solid figure: what is shown of tube, mold, first buckle and cell, and what is written on it.

import { $, element, typeset, wordRow } from "./dom.js";
import { drawOverlay } from "./overlay.js";
import { Latest, post, Refused } from "./server.js";
import { SolidView, unpack } from "./solid.js";

const SHOWN = [["tube", "tube"], ["casting", "one casting"], ["mold", "in its mold"], ["buckle", "what buckles first"], ["cell", "one cell"]];

export class SolidFigure {
  // troubled(error) when the server does not answer; drawn(kind, since) for the timing; before():
  // when what is drawn before a mesh has been drawn.
  constructor(start, state, troubled, drawn, before) {
    Object.assign(this, { start, state, buckles: [], advice: "", lightFor: "", exactFor: "", pairFor: "", cutChosen: false, check: "" });
    const solid = this.solid = new SolidView($("solid"));
    if (!solid.gl) $("solid-said").textContent = "this browser has no WebGL 2: no solid view";
    solid.after = (seen) => this.write(seen);
    $("shown-choices").replaceWith(wordRow("shown", SHOWN, "tube", "what is shown", (value) => { this.look({ shown: value }); this.follow(this.values ?? state.values); }));
    $("locks").addEventListener("change", () => {
      const on = $("locks").checked, casting = on && !["casting", "mold"].includes(solid.options.shown);
      // The eye goes to the side of the ribs, where the flanks are.
      if (on) solid.tilt = Math.abs(solid.tilt) * (solid.options.shown !== "mold" && state.values["ribs.side"] === "inside" ? -1 : 1);
      this.look({ locks: on, ...(casting ? this.choose("casting") : {}) });
    });
    $("cut").addEventListener("change", () => { this.cutChosen = true; this.look({ cut: $("cut").value }); });
    $("cut-place").addEventListener("input", () => this.look({ place: Number($("cut-place").value) }));
    $("open").addEventListener("input", () => this.look({ open: Number($("open").value) }));
    $("check").addEventListener("change", () => { this.check = $("check").value; this.chosen = this.check !== this.buckles[0]?.name; this.follow(this.values); });
    $("sway").addEventListener("input", () => this.look({ sway: Number($("sway").value) }));
    $("animate").addEventListener("change", () => this.animate());
    $("exact").addEventListener("change", () => this.useExact($("exact").checked));
    // The mold's halves only where they are looked at. Software draws a solid on every core, so the
    // map, which is on its way too, is drawn first.
    this.meshing = new Latest(async ({ values, since }) => {
      const key = state.shapeOf(values), mold = solid.options.shown === "mold";
      if (key === this.lightFor && (this.withMold || !mold)) return;
      try {
        const found = unpack(await post("/scene", { values: state.sent(values), mold }, true));
        await before();
        solid.put("light", found);
        Object.assign(this, { lightFor: key, withMold: mold });
        this.locked = null;
        this.tell();
        drawn("scene", since);
      } catch (error) { if (!(error instanceof Refused)) troubled(error); }
    });
    this.pairing = new Latest(async ({ values, check, key }) => {
      try {
        solid.put("pair", unpack(await post("/buckle", { values: state.sent(values), check }, true)));
        this.pairFor = key;
      } catch (error) {
        if (!(error instanceof Refused)) troubled(error);
        else { solid.free("pair"); this.pairFor = ""; solid.draw(); this.refused = error.message; }
      }
      this.tell();
    });
    this.look({});
  }

  get going() { return this.meshing.going || this.pairing.going; }

  // A move: exact solids stay while they are of this shape; the rest follows.
  moved(values) {
    this.values = values;
    const fits = this.exactFor !== "" && this.exactFor === this.state.shapeOf(values);
    $("exact").disabled = !fits;
    if (!fits && $("exact").checked) { this.wasExact = true; this.useExact(false); }
    if (fits && this.wasExact) { this.wasExact = false; this.useExact(true); }
    this.tell();
  }

  // After the numbers are known: the mesh, and the mode that they name.
  follow(values, since = performance.now(), buckles = this.buckles) {
    this.values = values;
    this.list(buckles);
    this.meshing.call({ values, since });
    const { shown } = this.solid.options;
    if (shown !== "buckle" && shown !== "cell") return;
    const check = shown === "buckle" ? this.check : "", key = JSON.stringify([values, check]);
    if (shown === "buckle" && !check) { this.solid.free("pair"); this.solid.draw(); this.tell(); return; }
    if (key !== this.pairFor) this.pairing.call({ values, check, key });
    else this.tell();
  }

  list(buckles) {
    this.buckles = buckles;
    // The governing one, unless another was asked for and still buckles.
    if (!this.chosen || !buckles.some((one) => one.name === this.check)) this.check = buckles[0]?.name ?? "";
    $("check").replaceChildren(...buckles.map((one) => element("option", { value: one.name }, typeset(`${one.name}, margin ${one.margin}`))));
    $("check").value = this.check;
  }

  look(change) {
    const { solid } = this;
    Object.assign(solid.options, change);
    const { shown, cut } = solid.options, paired = shown === "buckle" || shown === "cell";
    $("open-label").hidden = shown !== "mold";
    for (const id of ["cut-row", "locks-label"]) $(id).hidden = paired;
    $("cut-label").hidden = cut === "none" || paired;
    $("buckle-row").hidden = shown !== "buckle";
    if (shown === "cell") solid.options.sway = 0;
    else if (shown === "buckle") solid.options.sway = Number($("sway").value);
    solid.draw();
    this.tell();
  }

  // To and fro, only on request and never for those who asked for less motion without asking here.
  animate() {
    cancelAnimationFrame(this.frame);
    if (!$("animate").checked) { this.look({}); return; }
    const begin = performance.now(), size = () => Number($("sway").value);
    const beat = (now) => {
      if (this.solid.options.shown === "buckle") { this.solid.options.sway = size() * Math.sin((now - begin) / 450); this.solid.draw(); }
      this.frame = requestAnimationFrame(beat);
    };
    this.frame = requestAnimationFrame(beat);
  }

  choose(word) {
    document.querySelector(`input[name=shown][value=${word}]`).checked = true;
    return { shown: word };
  }

  // Ribs outside are seen on the whole tube, ribs inside on the cut one.
  lookFromTheRibs(side) {
    if (this.cutChosen) return;
    $("cut").value = side === "outside" ? "none" : "along";
    this.look({ cut: $("cut").value });
  }

  takeExact(head, values) {
    this.solid.put("exact", head);
    this.exactFor = this.state.shapeOf(values);
    const fits = this.exactFor === this.state.shapeOf();
    $("exact").disabled = !fits;
    if (fits) this.useExact(true);
    else this.wasExact = true;
    this.tell();
  }

  useExact(on) {
    $("exact").checked = on;
    if (on && !["casting", "mold"].includes(this.solid.options.shown)) this.look({ ...this.choose("casting"), exact: on });
    else this.look({ exact: on });
  }

  // Where on the casting a flank locks most.
  lockPlace() {
    const { light } = this.solid;
    if (!light) return null;
    if (this.locked) return this.locked.place;
    let best = null, most = 127 * (light.clear ?? 1);
    for (const body of light.bodies) {
      for (let k = 0; k < (body.places || 0); k++) {
        const c = Math.cos(body.spots[2 * k]), s = Math.sin(body.spots[2 * k]);
        for (let i = 0; i < body.points; i++) {
          const [, y, z, mark] = body.shading.subarray(4 * i, 4 * i + 4), lean = (s * y + c * z) * light.pull;
          if (mark < -32 || lean <= most / 1.02) continue;
          // Of two that lock alike the one on the side that a cut along the axis leaves.
          const [x, v, w] = body.place.subarray(3 * i, 3 * i + 3), across = c * v - s * w;
          const weight = across > 0 ? 1.02 * lean : lean;
          if (weight <= most) continue;
          most = weight;
          best = [x + body.spots[2 * k + 1], across, s * v + c * w];
        }
      }
    }
    this.locked = { place: best };
    return best;
  }

  write(seen) {
    if (this.solid.partial !== this.toldPartial) { this.toldPartial = this.solid.partial; this.tell(); }
    const { shown, locks } = this.solid.options, inch = this.start.units === "inch";
    const paired = shown === "buckle" || shown === "cell";
    const place = locks && !paired && shown !== "tube" ? this.lockPlace() : null;
    drawOverlay($("overlay"), seen, {
      dimensions: paired ? this.solid.pair?.dimensions : shown === "tube" ? this.solid.light?.dimensions : [],
      names: shown === "mold", locks: place && { place, text: "locks here" }, inch,
    });
  }

  tell() {
    const { solid } = this, { shown, exact, locks } = solid.options, head = exact ? solid.exact : solid.light;
    if (!head || !solid.gl) return;
    const said = [];
    if (this.wasExact && !exact) said.push("the exact solids are out of date: of an earlier shape; build them again");
    if (shown === "buckle") said.push(this.check ? `${solid.pair?.said ?? ""}. Drawn far larger than life; theory gives the shape, not its size. Rust moves outward, blue inward` : "no load case makes anything buckle");
    else if (shown === "cell") said.push(solid.pair?.said ?? this.refused ?? "");
    else {
      if (locks) said.push(`striped faces lock on a straight pull${this.advice ? `: ${this.advice}` : ""}`);
      said.push(exact ? "exact solids" : head.pockets ? `${head.pockets.toLocaleString("en")} pockets in each casting; light mesh, without fillets, holes and keys` : "light mesh, without holes and keys", this.solid.partial ? "drawn without a graphics card: part of the pockets is left out of the picture" : "", ...head.notes.filter((note) => /^no mold|plain/.test(note)));
    }
    $("solid-said").textContent = typeset(said.filter(Boolean).join("; "));
    $("solid-said").title = head.notes.join("; ");
  }
}
