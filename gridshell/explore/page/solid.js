// Meshes from the server on a WebGL 2 canvas: turn, zoom, cut, open the mold, mark what locks.

import { boxOf } from "./svg.js";

const SLOW = 40; // ms of drawing, from which on a picture is coarser while it moves
const REST = 250;
const MOST = 80000, MOST_AT_REST = 300000; // triangles that software draws; pockets beyond are left out
const MERGED = 60000; // triangles of a casting that is drawn in one piece

const VERTEX = `#version 300 es
in vec3 place; in vec4 shading; in vec3 moved; in vec2 spot;
uniform mat4 view; uniform mat4 model; uniform float inside; uniform float sway; uniform float pull;
out vec3 world; out vec3 normal; out float mark;
void main() {
  // A pocket that stands at many places: turned about the axis and moved along it.
  float c = cos(spot.x), s = sin(spot.x);
  mat3 turn = mat3(1.0, 0.0, 0.0, 0.0, c, s, 0.0, -s, c);
  vec3 out1 = turn * shading.xyz;
  vec4 at = model * vec4(turn * mix(place, moved, sway) + vec3(spot.y, 0.0, 0.0), 1.0);
  world = at.xyz;
  normal = mat3(model) * out1 * inside;
  mark = pull != 0.0 && shading.w > -0.25 ? max(out1.z * pull, 0.0) : shading.w;
  gl_Position = view * at;
}`;

// The inside of a cut body is seen as its back faces; they are drawn flat and hatched, so that a
// cut looks cut without any geometry of its own.
const FRAGMENT = `#version 300 es
precision highp float;
in vec3 world; in vec3 normal; in float mark;
uniform vec3 color; uniform vec3 light; uniform vec4 cut; uniform float inside; uniform float clear;
uniform float marking; uniform vec3 warn; uniform vec3 calm; uniform vec3 cutColor; uniform float dark; uniform float swaying;
out vec4 shown;
void main() {
  if (dot(cut.xyz, world) > cut.w) discard;
  bool back = gl_FrontFacing != (inside > 0.0);
  float stripe = step(0.5, fract((gl_FragCoord.x + gl_FragCoord.y) / 18.0));
  if (back) { shown = vec4(mix(cutColor, cutColor * 0.72, stripe * 0.8), 1.0); return; }
  float lit = 0.5 + 0.5 * dot(normalize(normal), light);
  // Marks: above 0 locks, 0 other flanks, -0.5 pocket floors, -1 the rest.
  vec3 base = mark < -0.25 && mark > -0.75 ? color * 0.74 : color;
  if (swaying != 0.0) base = mix(color, mark * swaying > 0.0 ? warn : calm, min(1.0, abs(mark * swaying)));
  else if (marking > 0.0 && mark > clear) {
    float bar = step(0.55, fract((gl_FragCoord.x - gl_FragCoord.y) / 14.0));
    base = mix(warn, warn * 0.55, bar);
  }
  shown = vec4(base * mix(0.42, 1.06, lit * lit) + dark * 0.02, 1.0);
}`;


function compile(gl, kind, text) {
  const shader = gl.createShader(kind);
  gl.shaderSource(shader, text);
  gl.compileShader(shader);
  if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
  return shader;
}

const times = (a, b) => {
  const out = new Float32Array(16);
  for (let c = 0; c < 4; c++) for (let r = 0; r < 4; r++) {
    let sum = 0;
    for (let k = 0; k < 4; k++) sum += a[k * 4 + r] * b[c * 4 + k];
    out[c * 4 + r] = sum;
  }
  return out;
};

// Turned about the x axis, moved, grown.
const placed = (angle, move, grow) => {
  const c = Math.cos(angle) * grow, s = Math.sin(angle) * grow;
  return new Float32Array([grow, 0, 0, 0, 0, c, s, 0, 0, -s, c, 0, ...move, 1]);
};

export function unpack(buffer) {
  const size = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, size)));
  let at = 4 + size;
  for (const body of head.bodies) {
    body.place = new Float32Array(buffer, at, body.points * 3); at += body.points * 12;
    body.shading = new Int8Array(buffer, at, body.points * 4); at += body.points * 4;
    body.index = new Uint32Array(buffer, at, body.triangles * 3); at += body.triangles * 12;
    body.spots = body.places ? new Float32Array(buffer, at, body.places * 2) : null; at += (body.places ?? 0) * 8;
  }
  return head;
}

// Bodies of a casting as one, every pocket in its place: software takes a third of the time over
// one body that it takes over a thousand small ones.
function merged(bodies) {
  const often = (body) => body.places || 1, sum = (key) => bodies.reduce((all, body) => all + body[key] * often(body), 0);
  const points = sum("points"), triangles = sum("triangles"), around = bodies.filter((body) => !body.spots);
  const whole = {
    name: "rest", points, triangles, places: 0, spots: null,
    place: new Float32Array(points * 3), shading: new Int8Array(points * 4), index: new Uint32Array(triangles * 3),
    low: [0, 1, 2].map((k) => Math.min(...around.map((body) => body.low[k]))), high: [0, 1, 2].map((k) => Math.max(...around.map((body) => body.high[k]))),
  };
  const { place, shading, index } = whole;
  let point = 0, corner = 0;
  for (const body of bodies) {
    for (let n = 0; n < often(body); n++) {
      const [angle, shift] = body.spots ? body.spots.subarray(2 * n, 2 * n + 2) : [0, 0], c = Math.cos(angle), s = Math.sin(angle);
      for (let i = 0; i < body.index.length; i++) index[corner++] = body.index[i] + point;
      for (let i = 0; i < body.points; i++, point++) {
        const a = 3 * i, b = 4 * i, p = 3 * point, q = 4 * point;
        place[p] = body.place[a] + shift;
        place[p + 1] = c * body.place[a + 1] - s * body.place[a + 2];
        place[p + 2] = s * body.place[a + 1] + c * body.place[a + 2];
        shading[q] = body.shading[b];
        shading[q + 1] = Math.round(c * body.shading[b + 1] - s * body.shading[b + 2]);
        shading[q + 2] = Math.round(s * body.shading[b + 1] + c * body.shading[b + 2]);
        shading[q + 3] = body.shading[b + 3];
      }
    }
  }
  return whole;
}

// Whether nothing of a body is left of a cut: all eight corners of its box lie before the plane.
function cutAway(body, m, plane) {
  for (let i = 0; i < 8; i++) {
    const p = [0, 1, 2].map((k) => (i >> k & 1 ? body.high[k] : body.low[k]));
    let at = -plane[3];
    for (let k = 0; k < 3; k++) at += plane[k] * (m[k] * p[0] + m[4 + k] * p[1] + m[8 + k] * p[2] + m[12 + k]);
    if (at < -1e-3) return false;
  }
  return true;
}

export class SolidView {
  constructor(canvas) {
    this.canvas = canvas;
    Object.assign(this, { light: null, exact: null, pair: null, after: () => {} });
    this.options = { shown: "tube", exact: false, locks: false, cut: "along", place: 0.5, open: 0.35, sway: 1 };
    this.home();
    canvas.addEventListener("webglcontextlost", (event) => { event.preventDefault(); this.gl = null; });
    canvas.addEventListener("webglcontextrestored", () => { this.prepare(); this.reload(); });
    this.prepare();
    this.listen();
    new ResizeObserver(() => this.draw()).observe(canvas);
  }

  home() { this.turn = -0.62; this.tilt = 0.42; this.zoom = 1; }

  prepare() {
    const gl = this.canvas.getContext("webgl2", { antialias: false });
    this.gl = gl;
    if (!gl) return;
    const program = gl.createProgram();
    gl.attachShader(program, compile(gl, gl.VERTEX_SHADER, VERTEX));
    gl.attachShader(program, compile(gl, gl.FRAGMENT_SHADER, FRAGMENT));
    gl.bindAttribLocation(program, 0, "place");
    gl.bindAttribLocation(program, 1, "shading");
    gl.bindAttribLocation(program, 2, "moved");
    gl.bindAttribLocation(program, 3, "spot");
    gl.linkProgram(program);
    gl.useProgram(program);
    this.at = {};
    for (const name of ["view", "model", "inside", "color", "light", "cut", "clear", "marking", "warn", "cutColor", "dark", "sway", "swaying", "calm", "pull"]) {
      this.at[name] = gl.getUniformLocation(program, name);
    }
    gl.enable(gl.DEPTH_TEST);
  }

  reload() {
    for (const kind of ["light", "exact", "pair"]) if (this[kind]) this.put(kind, this[kind]);
  }

  put(kind, head) {
    this.free(kind);
    this[kind] = head;
    const gl = this.gl;
    if (!gl) return;
    if (kind === "light") {
      const casting = head.bodies.filter((body) => body.name === "rest" || body.name.startsWith("ribbed"));
      const size = casting.reduce((all, body) => all + body.triangles * (body.places || 1), 0);
      head.whole = size <= MERGED ? merged(casting) : null;
    }
    for (const body of [...head.bodies, head.whole].filter(Boolean)) {
      body.array = gl.createVertexArray();
      gl.bindVertexArray(body.array);
      body.buffers = [body.place, body.shading, body.index].map((data, i) => {
        const target = i < 2 ? gl.ARRAY_BUFFER : gl.ELEMENT_ARRAY_BUFFER, buffer = gl.createBuffer();
        gl.bindBuffer(target, buffer);
        gl.bufferData(target, data, gl.STATIC_DRAW);
        if (i === 0) gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
        if (i === 1) gl.vertexAttribPointer(1, 4, gl.BYTE, true, 0, 0);
        if (i < 2) gl.enableVertexAttribArray(i);
        return buffer;
      });
      if (!body.spots) continue;
      const buffer = gl.createBuffer();
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, body.spots, gl.STATIC_DRAW);
      gl.vertexAttribPointer(3, 2, gl.FLOAT, false, 0, 0);
      gl.vertexAttribDivisor(3, 1);
      gl.enableVertexAttribArray(3);
      body.buffers.push(buffer);
    }
    // A pair is one body that goes to and fro: the second is where its points go.
    const [still, moved] = head.bodies;
    if (kind === "pair" && moved) {
      gl.bindVertexArray(still.array);
      gl.bindBuffer(gl.ARRAY_BUFFER, moved.buffers[0]);
      gl.vertexAttribPointer(2, 3, gl.FLOAT, false, 0, 0);
      gl.enableVertexAttribArray(2);
    }
    gl.bindVertexArray(null);
    this.draw();
  }

  free(kind) {
    const gl = this.gl;
    for (const body of [...this[kind]?.bodies ?? [], this[kind]?.whole].filter(Boolean)) {
      if (!gl || !body.array) continue;
      gl.deleteVertexArray(body.array);
      body.buffers.forEach((buffer) => gl.deleteBuffer(buffer));
    }
    this[kind] = null;
  }

  // What is drawn: [body, model matrix, inside out, color].
  pieces() {
    const { shown, open } = this.options, exact = this.options.exact && this.exact;
    if (shown === "buckle" || shown === "cell") {
      return this.pair ? [[this.pair.bodies[0], placed(0, [0, 0, 0], 1), 1, this.light?.colors.part ?? [0.8, 0.7, 0.5]]] : [];
    }
    const head = exact ? this.exact : this.light;
    if (!head) return [];
    const by = Object.fromEntries(head.bodies.map((body) => [body.name, body]));
    const ribbed = head.bodies.filter((body) => body.name.startsWith("ribbed"));
    const casting = head.whole ? [head.whole] : [...ribbed, by.rest];
    const still = (dz = 0, grow = 1) => placed(0, [0, 0, dz], grow);
    const colors = this.light?.colors ?? {}, list = [];
    const high = Math.max(...head.bodies.filter((body) => !body.spots).map((body) => body.high[2]));
    const lift = { core: -1.1 * open * high, cavity: 1.1 * open * high };
    if (exact) {
      for (const body of head.bodies) {
        if (shown !== "mold" && head.roles[body.name] !== "part") continue;
        list.push([body, still(lift[head.roles[body.name]] ?? 0), 1, colors[head.roles[body.name]]]);
      }
      return list;
    }
    if (shown === "tube") {
      // Of too many pockets for software those of the first castings are drawn.
      const each = ribbed.reduce((all, body) => all + body.triangles * (body.places || 1), 0), room = this.slow === false || head.whole ? Infinity : MOST_AT_REST;
      const bare = [by.rest, by.ribbed, by.closed].filter(Boolean);
      head.copies.forEach(([angle, shift], n) => {
        for (const body of n * each < room ? casting : bare) list.push([body, placed(angle, [shift, 0, 0], 1), 1, colors.part]);
      });
      this.simpler = (head.copies.length - 1) * each >= room;
      return list;
    }
    for (const body of casting) list.push([body, still(), 1, colors.part]);
    if (shown !== "mold") return list;
    for (const name of ["core", "cavity"]) {
      if (!by[name]) continue;
      list.push([by[name], still(lift[name]), 1, colors[name]]);
      if (head.grooved === name) for (const body of ribbed) list.push([body, still(lift[name], head.growth), -1, colors[name]]);
    }
    return list;
  }

  draw() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = null;
      clearTimeout(this.resting);
      this.paint(this.slow !== false);
      if (this.slow) this.resting = setTimeout(() => this.paint(), REST);
      else this.clock();
    });
  }

  // How long the card takes over a picture: software drawing would hold up the numbers too.
  clock() {
    const { gl } = this, since = performance.now(), fence = gl?.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    if (!fence) return;
    gl.flush();
    const look = () => {
      const late = performance.now() - since > SLOW;
      if (!late && gl.getSyncParameter(fence, gl.SYNC_STATUS) !== gl.SIGNALED) { setTimeout(look, 8); return; }
      gl.deleteSync(fence);
      if (late || this.slow === undefined) { this.slow = late; this.paint(); } // the first one was coarse
    };
    setTimeout(look, 8);
  }

  // Coarse: at the pixels of the screen, where a machine without a graphics card would lag behind.
  paint(coarse = false) {
    const gl = this.gl;
    if (!gl) return;
    // Twice as fine as the screen instead of the card's own smoothing, which some draw with faults.
    const fine = Math.max(2, Math.min(window.devicePixelRatio || 1, 3)), ratio = coarse ? fine / 2 : fine, box = boxOf(this.canvas);
    const width = Math.max(1, Math.round(box.width * ratio)), height = Math.max(1, Math.round(box.height * ratio));
    if (this.canvas.width !== width || this.canvas.height !== height) Object.assign(this.canvas, { width, height });
    gl.viewport(0, 0, width, height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    const list = this.pieces();
    if (!list.length) { this.after(null); return; }
    const paired = ["buckle", "cell"].includes(this.options.shown);
    const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (const [body, m] of list) {
      if (body.spots) continue; // within the casting's other faces
      for (let i = 0; i < 8; i++) {
        const p = [0, 1, 2].map((k) => (i >> k & 1 ? body.high[k] : body.low[k]));
        for (let k = 0; k < 3; k++) {
          const v = m[k] * p[0] + m[4 + k] * p[1] + m[8 + k] * p[2] + m[12 + k];
          low[k] = Math.min(low[k], v); high[k] = Math.max(high[k], v);
        }
      }
    }
    const center = low.map((v, k) => (v + high[k]) / 2), size = Math.hypot(...low.map((v, k) => high[k] - v)) / 2;
    const view = this.camera(center, size, low, high, width / height);
    gl.uniformMatrix4fv(this.at.view, false, view);
    gl.uniform1f(this.at.sway, paired ? this.options.sway : 0);
    gl.uniform1f(this.at.swaying, this.options.shown === "buckle" ? this.options.sway : 0);
    gl.uniform3f(this.at.calm, 0.1, 0.45, 0.75);
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    gl.uniform3f(this.at.light, ...this.lamp());
    gl.uniform3f(this.at.warn, 0.84, 0.33, 0.0);
    gl.uniform1f(this.at.dark, dark ? 1 : 0);
    gl.uniform1f(this.at.marking, this.options.locks ? 1 : 0);
    gl.uniform1f(this.at.clear, this.light?.clear ?? 1);
    const { cut, place } = this.options, k = cut === "across" ? 0 : 1;
    const plane = [0, 0, 0, 1e9];
    // What lies before the plane is taken away: the eye starts on that side.
    if (cut !== "none" && !paired) { plane[k] = -1; plane[3] = -(low[k] + (high[k] - low[k]) * place); }
    gl.uniform4f(this.at.cut, ...plane);
    gl.uniform1f(this.at.pull, !paired && !(this.options.exact && this.exact) ? this.light?.pull ?? 0 : 0);
    let left = coarse ? MOST : this.slow ? MOST_AT_REST : Infinity, partial = this.options.shown === "tube" && this.simpler;
    // Where pockets are left out, the tips of the ribs stand for them.
    const plain = this.light?.bodies.filter((body) => ["rest", "ribbed", "closed"].includes(body.name));
    const within = list.filter(([body, model]) => body.spots || plane[3] === 1e9 || !cutAway(body, model, plane)).flatMap((one) => {
      if (one[0] !== this.light?.whole) return [one];
      if (one[0].triangles <= left) { left -= one[0].triangles; return [one]; }
      partial = true;
      return plain.map((body) => [body, ...one.slice(1)]);
    });
    for (const [body, model, inside, color] of within) {
      const each = body.index.length / 3, count = body.spots ? Math.min(body.places, Math.floor(Math.max(left, 0) / each)) : 1;
      if (body !== this.light?.whole) left -= each * count;
      if (body.spots && count < body.places) partial = true;
      if (body.spots && !count) continue;
      gl.uniformMatrix4fv(this.at.model, false, model);
      gl.uniform1f(this.at.inside, inside);
      gl.uniform3f(this.at.color, ...color);
      gl.uniform3f(this.at.cutColor, ...color.map((c) => c * 0.72));
      gl.bindVertexArray(body.array);
      if (body.spots) gl.drawElementsInstanced(gl.TRIANGLES, body.index.length, gl.UNSIGNED_INT, 0, count);
      else gl.drawElements(gl.TRIANGLES, body.index.length, gl.UNSIGNED_INT, 0);
    }
    gl.bindVertexArray(null);
    // Said of the picture at rest alone: a word that comes and goes with every move would change the
    // room that the picture has, and so draw it anew for ever.
    if (!coarse) this.partial = partial;
    const pixel = ([x, y, z]) => {
      const at = [0, 1].map((r) => view[r] * x + view[4 + r] * y + view[8 + r] * z + view[12 + r]);
      return [(at[0] + 1) / 2 * box.width, (1 - at[1]) / 2 * box.height];
    };
    this.after({ pixel, perMillimeter: box.height / 2 / this.half, list, width: box.width, height: box.height });
  }

  // Of the ribs of an enlarged cell: 1 above, -1 below; 0 where something else is shown.
  get side() { return (["buckle", "cell"].includes(this.options.shown) && this.pair?.side) || 0; }

  // Axes of the eye: right, up, towards the eye.
  basis() {
    const c = Math.cos, s = Math.sin, a = this.turn;
    // One cell is seen into: from the side of its ribs, and steeper than the tube.
    const b = this.side ? this.side * Math.min(this.tilt + 0.35, 1.57) : this.tilt;
    const right = [c(a), s(a), 0];
    const back = [s(a) * c(b), -c(a) * c(b), s(b)];
    const up = [back[1] * right[2] - back[2] * right[1], back[2] * right[0] - back[0] * right[2], back[0] * right[1] - back[1] * right[0]];
    return [right, up, back];
  }

  lamp() {
    const [right, up, back] = this.basis();
    const v = right.map((_, k) => -0.35 * right[k] + 0.55 * up[k] + 0.75 * back[k]), n = Math.hypot(...v);
    return v.map((x) => x / n);
  }

  camera(center, size, low, high, aspect) {
    const [right, up, back] = this.basis();
    // Parallel view, fitted to the box as it is seen, so that sizes compare.
    const extent = (axis) => axis.reduce((sum, v, k) => sum + Math.abs(v) * (high[k] - low[k]) / 2, 0);
    const half = Math.max(extent(right) / aspect, extent(up)) * 1.16 / this.zoom;
    this.half = half;
    const dot = (axis) => -(axis[0] * center[0] + axis[1] * center[1] + axis[2] * center[2]);
    const rotate = new Float32Array([
      right[0], up[0], back[0], 0, right[1], up[1], back[1], 0, right[2], up[2], back[2], 0, dot(right), dot(up), dot(back), 1,
    ]);
    const project = new Float32Array([1 / (half * aspect), 0, 0, 0, 0, 1 / half, 0, 0, 0, 0, -1 / (1.1 * size), 0, 0, 0, 0, 1]);
    return times(project, rotate);
  }

  move(turn, tilt, zoom = 1) {
    this.turn += turn;
    this.tilt = Math.max(-1.57, Math.min(1.57, this.tilt + (this.side || 1) * tilt));
    this.zoom = Math.max(0.4, Math.min(25, this.zoom * zoom));
    this.draw();
  }

  listen() {
    const fingers = new Map();
    const canvas = this.canvas;
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
    });
    canvas.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const now = [event.clientX, event.clientY];
      if (fingers.size === 1) this.move(-(now[0] - before[0]) * 0.008, (now[1] - before[1]) * 0.008);
      else {
        const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
        const gap = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]);
        this.move(0, 0, gap(now) / Math.max(gap(before), 1));
      }
      fingers.set(event.pointerId, now);
    });
    for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (event) => fingers.delete(event.pointerId));
    canvas.addEventListener("wheel", (event) => {
      if (document.activeElement !== canvas) return; // or the page could not be scrolled past it
      event.preventDefault();
      this.move(0, 0, Math.exp(-event.deltaY * 0.0012));
    }, { passive: false });
    canvas.addEventListener("keydown", (event) => {
      const deed = {
        ArrowLeft: [0.12, 0], ArrowRight: [-0.12, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1],
        "+": [0, 0, 1.15], "=": [0, 0, 1.15], "-": [0, 0, 1 / 1.15],
      }[event.key];
      if (event.key === "0") { this.home(); this.draw(); } else if (deed) this.move(...deed); else return;
      event.preventDefault();
    });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }
}
