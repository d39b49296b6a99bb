// Heavy work that the server does meanwhile: progress, stop, what came of it.

import { get, post } from "./server.js";

const OVER = ["done", "failed", "stopped"];

export class JobList {
  // done(job) is called once for each job that ends well, watch(job) with every news of a search.
  constructor(node, say, done, watch) {
    Object.assign(this, { node, say, done, watch, jobs: [], values: new Map(), known: new Set(), timer: 0 });
  }

  async start(order, passOn = false) {
    try {
      const job = await post("/jobs", order);
      this.values.set(job.number, order.values);
      this.take([...this.jobs.filter((j) => j.number !== job.number), job]);
      return job;
    } catch (error) {
      if (passOn) throw error;
      this.say(error.message);
    }
    return null;
  }

  take(jobs) {
    this.jobs = jobs;
    for (const job of jobs) {
      if (job.kind === "goal") this.watch(job);
      if (!OVER.includes(job.state) || this.known.has(job.number)) continue;
      this.known.add(job.number);
      if (job.state === "done" && this.values.has(job.number)) this.done(job);
    }
    const before = this.node.childElementCount;
    this.show();
    if (this.node.childElementCount > before) this.node.lastElementChild.scrollIntoView({ block: "nearest" });
    clearTimeout(this.timer);
    if (jobs.some((job) => !OVER.includes(job.state))) this.timer = setTimeout(() => this.ask(), 300);
  }

  async ask() {
    try { this.take(await get("/jobs")); } catch { this.timer = setTimeout(() => this.ask(), 2000); }
  }

  show() {
    const recent = this.jobs.filter((job) => job.kind !== "goal").sort((a, b) => b.number - a.number).filter((job, index) => index < 3 || !OVER.includes(job.state));
    this.node.replaceChildren(...recent.map((job) => this.row(job)));
  }

  // The checks of the mold that did not pass, so that nobody casts without having read them.
  bad(job) {
    const bad = job.result.checks.filter((check) => ["fails", "caution"].includes(check.verdict));
    return bad.length ? ` Read before use: ${bad.map((check) => `${check.name} (${check.verdict})`).join(", ")}.` : "";
  }

  row(job) {
    const row = document.createElement("div");
    row.className = "job";
    row.dataset.state = job.state;
    const what = document.createElement("span");
    what.textContent = `${{ files: "mold files", solids: "exact solids", report: "report" }[job.kind]} ${job.number}: ${job.doing}`;
    row.append(what);
    if (!OVER.includes(job.state)) {
      const stop = document.createElement("button");
      stop.type = "button";
      stop.textContent = "Stop";
      stop.setAttribute("aria-label", `Stop job ${job.number}`);
      stop.addEventListener("click", async () => { try { await post(`/jobs/${job.number}/stop`, {}); } catch (error) { this.say(error.message); } this.ask(); });
      const bar = document.createElement("progress");
      bar.max = 1;
      if (job.state === "running") bar.value = job.share;
      bar.setAttribute("aria-label", what.textContent);
      row.append(stop, bar);
    }
    const more = document.createElement("p");
    if (job.message) { more.className = "wrong"; more.textContent = job.message; row.append(more); }
    else if (job.result.report) {
      const link = document.createElement("a");
      Object.assign(link, { href: `/jobs/${job.number}/report`, textContent: "Save the report again" });
      more.className = "small"; more.append(`${job.result.said} `, link); row.append(more);
    } else if (job.result.files) { more.className = "small"; more.textContent = `In ${job.result.folder}: ${job.result.files.join(", ")}. Every solid and mesh checked, no faults.${this.bad(job)}`; row.append(more); }
    return row;
  }
}
