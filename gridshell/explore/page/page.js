// The page: every move goes to the server as the definition file would state it, and what comes
// back is drawn. Numbers, map and light mesh follow at once; the rest when the move has come to rest.

import { Controls, numberOf } from "./controls.js";
import { $, element, nextFrame, pause, typeset } from "./dom.js";
import { Fields } from "./fields.js";
import { Goal, GOAL_FIELDS } from "./goal.js";
import { JobList } from "./jobs.js";
import { Pictures } from "./pictures.js";
import { drawSection } from "./section.js";
import { get, Gone, Latest, post, Refused } from "./server.js";
import { unpack } from "./solid.js";
import { MOST_PINS, State } from "./state.js";
import { showDetails, showMargin, showMoldAdvice, showNumbers, showVerdict } from "./tables.js";
import { SolidFigure } from "./views.js";

const REST = 350;
const MAP_FIRST = 90; // ms that mesh and verdict wait for a map that is on its way

const start = await get("/start").catch((error) => {
  $("gone").hidden = false;
  $("gone").textContent = error.status === 403 ? "This address is of a command that has ended. Open the address that the running 'gridshell explore' printed." : "gridshell explore does not answer. Start it again and open the address that it prints.";
  throw error;
});
const texts = Object.fromEntries(start.fields.map((field) => [field.path, field.text]));
const state = new State(start.values, texts);
const shown = { now: null, plain: null, reason: "", against: "", plainFor: "", pins: [], section: null, mold: null, moldFor: "" };
let shownFor = "", moved = performance.now(), resting = 0, reachFor = "[]";

document.title = `${start.file} – gridshell explore`;
$("title").textContent = start.title;
$("file").textContent = `${start.file} · gridshell ${start.version}`;
document.querySelectorAll(".file-name").forEach((node) => { node.textContent = start.file; });

// The server may end while the page stays: say so until it answers again, and lose nothing.
const gone = new Gone($("gone"), () => { document.body.classList.remove("stale"); reachFor = ""; follow(); });

let saying = 0;
function say(text) {
  $("said").textContent = text;
  clearTimeout(saying);
  saying = setTimeout(() => { $("said").textContent = ""; }, 6000);
}

// For the tests: what is set, what came back, ms from each move to its drawing.
const timing = { numbers: [], answer: [], map: [], fine: [], scene: [] };
const drawn = (kind, since) => requestAnimationFrame(() => timing[kind].push(performance.now() - since));
window.explored = {
  timing, answer: null, solid: null,
  get values() { return state.values; },
  sent: () => state.sent(),
  answered: () => !answering.going && shownFor === JSON.stringify(state.values),
  settled: () => ![answering, comparing, along, pictures.mapping, figure, detailing, advising, moving].some((l) => l.going) && window.explored.answered(),
};

const changed = (path, text, rested = true, what = "") => {
  state.values[path] = text;
  if (rested) state.rest(what);
  if (path === "ribs.side") figure.lookFromTheRibs(text);
};
const controls = new Controls($("controls"), start, (path, text, rested, what) => {
  changed(path, text, rested, what);
  follow(path === "ribs.pattern");
}, (path) => soon(path));
const fields = new Fields($("fields"), start, GOAL_FIELDS.map(([path]) => path), (path, text) => { changed(path, text); follow(); });
const pictures = new Pictures(start, state, controls, {
  pick: (changes, keys) => { Object.assign(state.values, changes); state.rest(keys ? "map" : ""); follow(); },
  go: (values) => { state.values = { ...values }; state.rest(); follow(); },
  troubled, drawn,
});
const afterMap = () => Promise.race([pictures.ready, pause(MAP_FIRST)]);
const figure = new SolidFigure(start, state, troubled, drawn, afterMap);
Object.assign(window.explored, { solid: figure.solid, figure, pictures });

// ---- following a move --------------------------------------------------------------------------

function troubled(error) {
  document.body.classList.add("stale");
  if (!(error instanceof Refused)) { gone.begin(); return; }
  if (error.status === 403) { gone.begin(true); return; }
  const rest = fields.complain(controls.complain(error.content.problems ?? []));
  if (rest.length) say(rest.map(({ path, message }) => (path ? `${path}: ${message}` : message)).join("; "));
}

const answering = new Latest(async ({ values, since }) => {
  try {
    const edits = state.edits(values);
    if (edits !== reachFor) { // other fields may move the ends of the sliders
      const found = await post("/controls", { values: state.sent(values) });
      controls.reach(found.sliders);
      pictures.reach(found.axes);
      reachFor = edits;
    }
    const answer = await post("/answer", { values: state.sent(values), ...pictures.asked() });
    document.body.classList.remove("stale");
    fields.complain(controls.complain([]));
    Object.assign(shown, { now: answer.now, section: answer.section });
    window.explored.answer = answer;
    shownFor = JSON.stringify(values);
    if (shown.moldFor !== shownFor) shown.mold = null;
    if (shown.plainFor !== shownFor) Object.assign(shown, { plain: null, reason: "…", against: "" });
    controls.stand(answer.set);
    controls.cells(answer.whole_cells);
    verdict();
    tell();
    $("cells").textContent = typeset(answer.cells);
    drawSection($("section"), answer.section);
    drawn("answer", since);
    if (shownAhead !== since) drawn("numbers", since);
    // The numbers are on the screen before anything else is asked for or drawn.
    await nextFrame();
    $("equivalent").textContent = typeset(answer.section.equivalent);
    pictures.visit(values, answer, shown.pins, shown.plain);
    figure.follow(values, since, answer.buckles);
    if (shown.plainFor !== shownFor) comparing.call({ values });
  } catch (error) { troubled(error); }
});

const verdict = () => { if (window.explored.answer) showVerdict(window.explored.answer, shown.mold, shown.against); };

// The numbers at every step of the slider that may be moved next, so that a move shows at once; the
// answer, which has everything, follows it.
let ahead = null, shownAhead = 0;
const butFor = (path, values) => JSON.stringify({ ...state.sent(values), [path]: "" });
const along = new Latest(async ({ path, values }) => {
  const key = butFor(path, values);
  if (ahead?.path === path && ahead.key === key) return;
  try { ahead = { ...await post("/along", { values: state.sent(values), path }), key }; } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});
const foreseeing = new Latest(({ path, values }) => pictures.foresee(path, values, controls.rows.get(path).stepped, () => !window.explored.settled()));
function soon(path) {
  const values = { ...state.values };
  along.call({ path, values });
  foreseeing.call({ path, values });
}
function showAhead(values, since) {
  const { control } = controls.rows.get(ahead?.path) ?? {}, text = values[ahead?.path] ?? "";
  if (!control || !text.endsWith(` ${control.unit}`) || ahead.key !== butFor(ahead.path, values)) return false;
  const step = (numberOf(text) - ahead.low) / ahead.step, column = ahead.columns[Math.round(step)];
  if (!column || Math.abs(step - Math.round(step)) > 1e-3 || JSON.stringify(values) === shownFor) return false;
  Object.assign(shown, { now: column, plain: null, reason: "…", against: "", plainFor: "" });
  showMargin(column);
  tell();
  shownAhead = since;
  drawn("numbers", since);
  return true;
}

// Unit loads, and the plain wall of equal mass from the process that works out the map.
const comparing = new Latest(async ({ values }) => {
  try {
    const { now, plain, missing, against } = await post("/beside", { values: state.sent(values) });
    if (shownFor !== JSON.stringify(values)) return;
    Object.assign(shown, { now, plain, reason: missing, against, plainFor: shownFor });
    verdict();
    tell();
    pictures.tellMore(shown.now, plain, shown.pins);
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});

// What may wait until the sliders rest; `still` when nothing has moved meanwhile.
const later = (address, show) => new Latest(async ({ values }) => {
  try {
    const found = await post(address, { values: state.sent(values) });
    if (JSON.stringify(values) === JSON.stringify(state.values)) show(found, values);
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});
const detailing = later("/details", showDetails);
const moving = later("/moves", (moves) => controls.tellMoves(moves));
// The mold's checks take a good tenth of a second; the verdict waits for them.
const advising = later("/mold-advice", (advice, values) => {
  Object.assign(shown, { moldFor: JSON.stringify(values), mold: advice });
  figure.advice = advice.checks.find((check) => check.name.includes("undercut"))?.advice ?? "";
  figure.tell();
  showMoldAdvice(advice);
  verdict();
  warnOfMold();
});

function follow(showAll = true) {
  moved = performance.now();
  const values = { ...state.values }, since = moved;
  if (showAll) { controls.show(values); fields.show(values); }
  controls.tellMoves([]);
  figure.moved(values);
  goal.moved(values);
  const ahead = showAhead(values, since);
  drawMap(values, since); // from a process of its own, so it need not wait for the numbers
  // With the numbers there already map and mesh come first: side by side all would be late.
  if (!ahead) answering.call({ values, since });
  else figure.meshing.call({ values, since }).then(afterMap).then(() => { if (since === moved) answering.call({ values, since }); });
  buttons();
  clearTimeout(resting);
  resting = setTimeout(() => rest(values), REST);
}

function drawMap(values, since) {
  pictures.goal = goal.best;
  if (pictures.draw(values, since)) timing.map.push(performance.now() - since);
  if (shown.now) pictures.tellMore(shown.now, shown.plain, shown.pins);
}

function rest(values) {
  history.replaceState(null, "", `#${state.toHash()}`);
  buttons();
  detailing.call({ values });
  advising.call({ values });
  moving.call({ values });
  pictures.fine(values);
  const row = document.activeElement?.closest?.(".slider");
  if (row) soon(row.dataset.path);
}

function buttons() {
  $("undo").disabled = !state.past.length && state.snapshot() === state.rested;
  $("redo").disabled = !state.future.length;
}

// ---- comparison and pins -----------------------------------------------------------------------

const labelOf = (path) => controls.rows.get(path)?.control.label ?? path;
function differs(values) {
  const used = state.differences(values).filter(([path]) => { const patterns = controls.rows.get(path)?.control.patterns; return !patterns || patterns.includes(values["ribs.pattern"]); });
  const lines = used.slice(0, 6).map(([path, , there]) => `${labelOf(path)} ${there || "–"}`);
  return lines.length ? lines.join(", ") + (used.length > 6 ? ` and ${used.length - 6} more` : "") : "nothing";
}

function tell() {
  const pinned = state.pins.map(({ name, values }, index) => ({
    title: name, column: shown.pins[index] ?? null, differs: differs(values),
    rename: (now) => repin(() => { state.pins[index] = { name: now.slice(0, 30), values }; }),
    buttons: [
      ["back to it", `back to it: ${name}`, () => { state.values = { ...values }; state.rest(); follow(); }, `back ${index}`],
      ["unpin", `unpin ${name}`, () => repin(() => state.pins.splice(index, 1)), `pin ${index}`],
    ],
  }));
  const add = state.pins.length < MOST_PINS ? [["pin it", "pin it: keep this design beside the others", () => repin(() => state.pins.push({ name: freeName(), values: { ...state.values } })), "pin"]] : [];
  showNumbers([
    { title: "this design", column: shown.now, buttons: add },
    { title: "plain wall, equal mass", column: shown.plain, reason: shown.reason, plain: true, buttons: [] }, ...pinned,
  ]);
}

function freeName() {
  let number = 1;
  while (state.pins.some(({ name }) => name === `pin ${number}`)) number += 1;
  return `pin ${number}`;
}

async function repin(deed) {
  deed();
  state.rest();
  buttons();
  await refreshPins();
  tell();
  drawMap(state.values, performance.now());
  rest(state.values);
}

const worked = new Map(); // values of a pinned design -> its column
async function refreshPins() {
  shown.pins = await Promise.all(state.pins.map(async ({ values }) => {
    const key = JSON.stringify(values);
    if (key === shown.plainFor) worked.set(key, shown.now);
    if (worked.has(key)) return worked.get(key);
    try { worked.set(key, (await post("/answer", { values: state.sent(values), whole: true })).now); return worked.get(key); } catch { say("a pinned design can't be worked out"); return null; }
  }));
}

async function restore() {
  await refreshPins();
  follow();
}

// ---- buttons -----------------------------------------------------------------------------------

$("undo").addEventListener("click", () => { if (state.undo()) restore(); });
$("redo").addEventListener("click", () => { if (state.redo()) restore(); });
$("reset").addEventListener("click", () => { state.reset(); follow(); });
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches?.("input[type=text], input:not([type])")) return;
  const key = event.key.toLowerCase();
  if (key === "z" && !event.shiftKey) $("undo").click();
  else if (key === "y" || (key === "z" && event.shiftKey)) $("redo").click();
  else return;
  event.preventDefault();
});
$("link").addEventListener("click", async () => {
  const address = `${location.origin}/#${state.toHash()}`;
  try { await navigator.clipboard.writeText(address); say("address copied; it works while this command runs"); } catch { say(address); }
});
addEventListener("hashchange", () => { state.rest(); state.fromHash(location.hash); state.rest(); restore(); });

// ---- heavy work --------------------------------------------------------------------------------

const jobs = new JobList($("jobs"), say, async (job) => {
  if (job.kind === "solids") figure.takeExact(unpack(await get(`/jobs/${job.number}/mesh`, true)), jobs.values.get(job.number));
  if (job.kind === "report") element("a", { href: `/jobs/${job.number}/report`, download: "" }).click();
}, (job) => goal.watch(job));
$("build").addEventListener("click", () => begin({ kind: "solids" }));
$("report").addEventListener("click", () => begin({ kind: "report" }));
async function begin(order, passOn = false) {
  const values = { ...state.values }, job = await jobs.start({ ...order, values: state.sent() }, passOn);
  if (job) jobs.values.set(job.number, values);
}

const goTo = (found) => { Object.assign(state.values, found); state.rest(); follow(); };
const goal = new Goal(fields, { start: (order, passOn) => jobs.start({ ...order, values: state.sent() }, passOn) }, goTo, () => drawMap(state.values, performance.now()));
goal.values = () => state.sent();
goal.now = () => state.values;
$("goal-mold").checked = start.fields.some((field) => field.path.startsWith("mold.") && field.text);

// ---- dialogs -----------------------------------------------------------------------------------

// What is against the mold, of the values that are set and no others; also while the dialog is open.
function warnOfMold() {
  const mold = shown.moldFor === JSON.stringify(state.values) ? shown.mold : null;
  const bad = mold?.findings.filter((one) => one.word !== "holds") ?? [];
  $("make-verdict").textContent = bad.map((one) => `${one.area} ${one.word}: ${one.reason}`).join(". ") || (mold ? "" : "The mold's checks are not in yet.");
}
const stem = start.file.replace(/\.toml$/, "");
function asks(name, deed) {
  const dialog = $(`${name}-dialog`), field = $(`${name}-name`), wrong = $(`${name}-wrong`), replace = $(`${name}-replace`);
  $(name).addEventListener("click", () => {
    field.value ||= name === "save" ? `${stem}-explored.toml` : `${stem}-mold`;
    if (name === "make") warnOfMold();
    wrong.textContent = ""; replace.checked = false; $(`${name}-replace-label`).hidden = true;
    dialog.showModal();
    field.select();
  });
  dialog.querySelector("form").addEventListener("submit", async (event) => {
    if (event.submitter?.value !== "go") return;
    event.preventDefault();
    try {
      await deed(field.value.trim(), replace.checked);
      dialog.close();
    } catch (error) {
      if (error.status === 409) { $(`${name}-replace-label`).hidden = false; wrong.textContent = `${error.content.exists} is there already`; } else wrong.textContent = error.message;
    }
  });
}
asks("save", async (name, replace) => {
  const done = await post("/save", { values: state.sent(), name, replace });
  say(`saved ${done.saved}; ${done.comments ? `with the comments of ${start.file}` : `the comments of ${start.file} are not in it: that file has changed meanwhile`}`);
});
asks("make", (folder, replace) => begin({ kind: "files", folder, replace }, true));

// ---- begin -------------------------------------------------------------------------------------

new ResizeObserver(() => { if (shown.section) drawSection($("section"), shown.section); pictures.redraw(); }).observe($("sight"));
state.fromHash(location.hash);
state.rested = state.snapshot();
jobs.take(start.jobs);
if (innerWidth > 900 && innerHeight >= 850) $("checks-fold").open = true;
if (innerWidth > 900 && innerHeight >= 850) $("goal-fold").open = true;
figure.lookFromTheRibs(state.values["ribs.side"]);
await restore();
buttons();
