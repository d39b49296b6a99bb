// The page: every move goes to the server as the definition file would state it, and what comes
// back is drawn. Numbers, map and light mesh follow at once; the rest when the move has come to rest.

import { Controls, numberOf, wordRow } from "./controls.js";
import { DesignMap, drawMapKey, drawSection } from "./drawings.js";
import { JobList } from "./jobs.js";
import { get, Gone, Latest, post, Refused } from "./server.js";
import { SolidView, unpack } from "./solid.js";
import { State } from "./state.js";
import { showDetails, showMoldAdvice, showNumbers, showVerdict, typeset } from "./tables.js";

const $ = (id) => document.getElementById(id);
const COARSE = 11, FINE = 28, REST = 350;

const start = await get("/start").catch((error) => {
  $("gone").hidden = false;
  $("gone").textContent = error.status === 403 ? "This address is of a command that has ended. Open the address that the running 'gridshell explore' printed." : "gridshell explore does not answer. Start it again and open the address that it prints.";
  throw error;
});
const state = new State(start.values);
let shown = { now: null, plain: null, reason: "", pins: [null, null], section: null };
let mapFor = "", moved = performance.now(), resting = 0;

document.title = `${start.file} – gridshell explore`;
$("title").textContent = start.title;
$("file").textContent = `${start.file} · gridshell ${start.version}`;
document.querySelectorAll(".file-name").forEach((node) => { node.textContent = start.file; });

// The server may end while the page stays: say so until it answers again, and lose nothing.
const gone = new Gone($("gone"), () => { document.body.classList.remove("stale"); follow(); });

let saying = 0;
function say(text) {
  $("said").textContent = text;
  clearTimeout(saying);
  saying = setTimeout(() => { $("said").textContent = ""; }, 6000);
}

// For the tests: what is set, what came back, ms from each move to its drawing.
const timing = { answer: [], map: [], scene: [] };
window.explored = {
  timing, answer: null, solid: null,
  get values() { return state.values; },
  settled: () => ![answering, mapping, meshing, detailing, advising, moving].some((l) => l.going) && shownFor === JSON.stringify(state.values),
};
let shownFor = "";

const sliders = Object.fromEntries(start.sliders.map((slider) => [slider.path, slider]));
const controls = new Controls($("controls"), start, (path, text, rested, what) => {
  state.values[path] = text;
  if (rested) state.rest(what);
  if (path === "ribs.side") lookFromTheRibs(text);
  follow(path === "ribs.pattern");
});
const place = (values) => [numberOf(values["ribs.height"]), numberOf(values["ribs.spacing"])];
const map = new DesignMap($("map"), $("map-said"), (height, spacing, keys) => {
  for (const [path, value] of [["ribs.height", height], ["ribs.spacing", spacing]]) {
    state.values[path] = `${controls.rows.get(path).snapped(value)} ${sliders[path].unit}`;
  }
  state.rest(keys ? "map" : "");
  follow(true);
});
map.step = [sliders["ribs.height"].step, sliders["ribs.spacing"].step];
const solid = new SolidView($("solid"));
window.explored.solid = solid;
if (!solid.gl) $("solid-said").textContent = "this browser has no WebGL 2: no solid view";

// ---- following a move --------------------------------------------------------------------------

const drawn = (kind, since) => requestAnimationFrame(() => timing[kind].push(performance.now() - since));

function troubled(error) {
  if (!(error instanceof Refused)) {
    document.body.classList.add("stale");
    gone.begin();
    return;
  }
  if (error.status === 403) { gone.begin(true); return; }
  document.body.classList.add("stale");
  const rest = controls.complain(error.content.problems ?? []);
  if (rest.length) say(rest.join("; "));
}

const answering = new Latest(async ({ values, since }) => {
  try {
    const answer = await post("/answer", { values });
    document.body.classList.remove("stale");
    controls.complain([]);
    Object.assign(shown, { now: answer.now, plain: answer.plain, reason: answer.plain_missing, section: answer.section });
    window.explored.answer = answer;
    shownFor = JSON.stringify(values);
    if (shown.moldFor !== shownFor) shown.mold = null;
    controls.stand(answer.set);
    showVerdict(answer, shown.mold);
    tell();
    $("cells").textContent = typeset(answer.cells);
    $("equivalent").textContent = typeset(answer.section.equivalent);
    drawSection($("section"), answer.section);
    drawn("answer", since);
    // The numbers first; the mesh has what is left of the tenth of a second.
    meshing.call({ values, since });
  } catch (error) { troubled(error); }
});

const mapping = new Latest(async ({ values, since, count }) => {
  try {
    map.draw(await post("/map", { values, count }));
    if (count === COARSE) drawn("map", since);
  } catch (error) { mapFor = ""; if (!(error instanceof Refused)) troubled(error); }
});

let meshFor = "";
const meshing = new Latest(async ({ values, since }) => {
  const key = JSON.stringify({ ...values, "material.temperature": "" }); // shape knows no temperature
  if (key === meshFor) return;
  try {
    solid.put("light", unpack(await post("/scene", { values }, true)));
    meshFor = key;
    tellSolid();
    drawn("scene", since);
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});

const detailing = new Latest(async ({ values }) => {
  try {
    showDetails(await post("/details", { values }));
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});

// The mold's checks take most of a second, so they come when the sliders rest; the verdict waits.
const advising = new Latest(async ({ values }) => {
  try {
    const advice = await post("/mold-advice", { values });
    shown.moldFor = JSON.stringify(values);
    if (shown.moldFor !== JSON.stringify(state.values)) return;
    shown.mold = advice;
    showMoldAdvice(advice);
    if (window.explored.answer) showVerdict(window.explored.answer, advice);
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});

const moving = new Latest(async ({ values }) => {
  try {
    const moves = await post("/moves", { values });
    if (JSON.stringify(values) === JSON.stringify(state.values)) controls.tellMoves(moves);
  } catch (error) { if (!(error instanceof Refused)) troubled(error); }
});

function follow(showAll = true) {
  moved = performance.now();
  const values = { ...state.values }, since = moved;
  if (showAll) controls.show(values);
  controls.tellMoves([]);
  if ($("exact").checked) useExact(false);
  $("exact").disabled = true;
  answering.call({ values, since });
  drawMap(values, since); // from a process of its own, so it need not wait for the numbers
  buttons();
  clearTimeout(resting);
  resting = setTimeout(() => rest(values), REST);
}

function drawMap(values, since) {
  map.here = place(values);
  map.pins = state.pins.map((pin) => pin && pin["ribs.pattern"] === values["ribs.pattern"] && place(pin));
  const pattern = values["ribs.pattern"], mapped = !["plain", "families"].includes(pattern);
  $("map-figure").classList.toggle("empty", !mapped);
  if (!mapped) drawMapKey($("map-key"), null);
  if (!mapped) { mapFor = pattern; map.none("a map needs ribs with one spacing"); return; }
  // The map is the same wherever in it the design stands.
  const key = JSON.stringify({ ...values, "ribs.height": 0, "ribs.spacing": 0 });
  if (key === mapFor && map.data) { map.point(); timing.map.push(performance.now() - since); return; }
  mapFor = key;
  mapping.call({ values, since, count: COARSE });
}

function rest(values) {
  history.replaceState(null, "", `#${state.toHash()}`);
  buttons();
  detailing.call({ values });
  advising.call({ values });
  moving.call({ values });
  if (map.fineFor !== mapFor && !["plain", "families"].includes(values["ribs.pattern"])) {
    map.fineFor = mapFor;
    mapping.call({ values, since: moved, count: FINE });
  }
}

function buttons() {
  $("undo").disabled = !state.past.length && state.snapshot() === state.rested;
  $("redo").disabled = !state.future.length;
}

// ---- comparison and pins -----------------------------------------------------------------------

function tell() {
  const pinned = shown.pins.map((column, index) => state.pins[index] && {
    title: `pin ${index + 1}`, column, buttons: [
      ["back to it", `back to it: pin ${index + 1}`, () => { state.values = { ...state.pins[index] }; state.rest(); follow(); }, `back ${index}`],
      ["unpin", `unpin pin ${index + 1}`, () => pin(index, null), `pin ${index}`],
    ],
  }).filter(Boolean);
  const free = [0, 1].filter((index) => !state.pins[index]);
  const holders = free.map((index) => [`pin ${index + 1}`, `pin ${index + 1}: keep this design beside the others`, () => pin(index, { ...state.values }), `pin ${index}`]);
  showNumbers([
    { title: "this design", column: shown.now, buttons: holders },
    { title: "plain wall, equal mass", column: shown.plain, reason: shown.reason, plain: true, buttons: [] }, ...pinned,
  ]);
}

async function pin(index, values) {
  state.pins[index] = values;
  state.rest();
  buttons();
  if (values) await refreshPins();
  else shown.pins[index] = null;
  tell();
  drawMap(state.values, performance.now());
  rest(state.values);
}

async function refreshPins() {
  shown.pins = await Promise.all(state.pins.map(async (values) => {
    if (!values) return null;
    try { return (await post("/answer", { values })).now; } catch { say("a pinned design can't be worked out"); return null; }
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

// ---- solid -------------------------------------------------------------------------------------

$("shown-choices").replaceWith(wordRow("shown", [["tube", "tube"], ["casting", "one casting"], ["mold", "in its mold"]], "tube", "what is shown", (value) => look({ shown: value })));
function look(change) {
  Object.assign(solid.options, change);
  $("open-label").hidden = solid.options.shown !== "mold";
  $("cut-label").hidden = solid.options.cut === "none";
  solid.draw();
  tellSolid();
}
$("locks").addEventListener("change", () => look({ locks: $("locks").checked, ...($("locks").checked && solid.options.shown === "tube" ? choose("casting") : {}) }));
let cutChosen = false;
$("cut").addEventListener("change", () => { cutChosen = true; look({ cut: $("cut").value }); });
// Ribs outside are seen on the whole tube, ribs inside on the cut one.
function lookFromTheRibs(side) {
  if (cutChosen) return;
  $("cut").value = side === "outside" ? "none" : "along";
  look({ cut: $("cut").value });
}
$("cut-place").addEventListener("input", () => look({ place: Number($("cut-place").value) }));
$("open").addEventListener("input", () => look({ open: Number($("open").value) }));
function choose(word) {
  document.querySelector(`input[name=shown][value=${word}]`).checked = true;
  return { shown: word };
}
function tellSolid() {
  const head = solid.options.exact ? solid.exact : solid.light;
  if (!head || !solid.gl) return;
  const lock = solid.options.locks ? "striped faces lock on a straight pull. " : "";
  const text = solid.options.exact ? "exact solids" : `${head.pockets.toLocaleString("en")} pockets in each casting; light mesh`;
  $("solid-said").textContent = `${lock}${[text, ...head.notes.filter((note) => /^no mold|plain/.test(note))].join("; ")}`;
  $("solid-said").title = head.notes.join("; ");
}
function useExact(on) {
  $("exact").checked = on;
  if (on && solid.options.shown === "tube") look({ ...choose("casting"), exact: on });
  else look({ exact: on });
}
$("exact").addEventListener("change", () => useExact($("exact").checked));

const jobs = new JobList($("jobs"), say, async (job) => {
  if (job.kind !== "solids") return;
  const values = jobs.values.get(job.number);
  if (JSON.stringify(values) !== JSON.stringify(state.values)) { say("the solids are of an earlier design"); return; }
  solid.put("exact", unpack(await get(`/jobs/${job.number}/mesh`, true)));
  $("exact").disabled = false;
  useExact(true);
});
$("build").addEventListener("click", () => jobs.start({ kind: "solids", values: { ...state.values } }));

// ---- dialogs -----------------------------------------------------------------------------------

const stem = start.file.replace(/\.toml$/, "");
function asks(name, deed) {
  const dialog = $(`${name}-dialog`), field = $(`${name}-name`), wrong = $(`${name}-wrong`), replace = $(`${name}-replace`);
  $(name).addEventListener("click", () => {
    field.value ||= name === "save" ? `${stem}-explored.toml` : `${stem}-mold`;
    if (name === "make") {
      const bad = shown.mold?.findings.filter((one) => one.word !== "holds") ?? [];
      $("make-verdict").textContent = bad.map((one) => `${one.area} ${one.word}: ${one.reason}`).join(". ") || (shown.mold ? "" : "The mold's checks are not in yet.");
    }
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
  const done = await post("/save", { values: state.values, name, replace });
  say(`saved ${done.saved}`);
});
asks("make", (folder, replace) => jobs.start({ kind: "files", values: { ...state.values }, folder, replace }, true));

// ---- begin -------------------------------------------------------------------------------------

new ResizeObserver(() => { if (shown.section) drawSection($("section"), shown.section); if (map.data) map.draw(map.data); }).observe($("sight"));
state.fromHash(location.hash);
state.rested = state.snapshot();
jobs.take(start.jobs);
if (innerWidth > 900 && innerHeight >= 850) $("checks-fold").open = true;
look({});
lookFromTheRibs(state.values["ribs.side"]);
await restore();
buttons();
