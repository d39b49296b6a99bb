// A goal: what is wanted, the search for the lightest design in the background, and "go there".

import { $, element, typeset } from "./dom.js";
import { post } from "./server.js";

export const GOAL_FIELDS = [
  ["target.margin", "lowest margin at least"], ["target.least_bending_stiffness", "EI at least", "120 N m^2", "40000 lbf in^2"],
  ["target.least_frequency", "first frequency at least", "25 Hz", "25 Hz"], ["target.largest_mass", "mass at most", "250 g", "0.5 lb"],
];
// What the search finds; the rest of the design is as stated.
const SOUGHT = /^ribs\.(pattern|orientation|side|height|width|spacing|hoop_spacing|angle)$|^skin\.thickness$/;
const OVER = ["done", "failed", "stopped"];

export class Goal {
  // go(values) puts the page on a design; marked() draws the map's mark anew.
  constructor(fields, jobs, go, marked) {
    Object.assign(this, { jobs, go, marked, number: 0, best: null, key: "" });
    $("goal-fields").append(...GOAL_FIELDS.map(([path, label, ...example]) => fields.row(fields.known.get(path), label, example.length ? `e.g. ${example[fields.start.units === "inch" ? 1 : 0]}` : undefined)));
    $("goal-find").addEventListener("click", () => this.find());
    $("goal-stop").addEventListener("click", () => this.stop("stopped"));
    for (const id of ["goal-mold", "goal-every"]) $(id).addEventListener("change", () => this.stop("stopped: the goal has changed"));
  }

  keyOf(values) { return JSON.stringify(Object.entries(values).filter(([path]) => !SOUGHT.test(path)).sort()); }

  async find() {
    $("goal-said").textContent = "searching …";
    $("goal-walls").replaceChildren();
    this.best = null;
    try {
      const job = await this.jobs.start({ kind: "goal", values: this.values(), with_mold: $("goal-mold").checked, every_wall: $("goal-every").checked }, true);
      Object.assign(this, { number: job.number, key: this.keyOf(this.now()) });
      this.running(true);
    } catch (error) { $("goal-said").textContent = error.message; }
  }

  running(on) {
    $("goal-stop").hidden = !on;
    $("goal-find").disabled = on;
    $("goal-bar").hidden = !on;
  }

  // Every move ends a search: its answer would be of another design.
  moved(values) {
    if (this.number && !$("goal-stop").hidden) this.stop("stopped by the move");
    if (this.best && this.key !== this.keyOf(values)) {
      this.best = null;
      $("goal-said").textContent = "what was found is of another goal or tube; find it again";
      $("goal-walls").replaceChildren();
    }
  }

  stop(why) {
    if ($("goal-stop").hidden) return;
    post(`/jobs/${this.number}/stop`, {}).catch(() => {});
    this.number = 0;
    this.running(false);
    $("goal-said").textContent = `search ${why}`;
  }

  // What the server tells of the job.
  watch(job) {
    if (job.number !== this.number) return;
    $("goal-bar").value = job.share;
    const walls = job.result.walls ?? job.so_far.walls ?? [];
    if (JSON.stringify(walls) !== this.told) { this.told = JSON.stringify(walls); this.show(walls); }
    if (!OVER.includes(job.state)) { $("goal-said").textContent = `searching: ${job.doing}`; return; }
    this.running(false);
    $("goal-said").textContent = typeset(job.state === "done" ? `${job.result.said}.` : job.message || `search ${job.state}`);
  }

  show(walls) {
    const made = walls.filter((wall) => wall.values);
    const clean = made.filter((wall) => !wall.unmet.length);
    this.best = [...(clean.length ? clean : made)].sort((a, b) => a.mass - b.mass)[0] ?? null;
    $("goal-walls").replaceChildren(...walls.map((wall) => {
      const item = element("li", {}, element("b", {}, wall.label), ` ${typeset(wall.text)} `);
      if (wall.values) {
        const button = element("button", { type: "button", "aria-label": `go there: ${wall.label}` }, "go there");
        button.addEventListener("click", () => this.go(wall.values));
        item.append(button);
      }
      if (wall === this.best) item.append(" ★ lightest so far");
      return item;
    }));
    this.marked();
  }
}
