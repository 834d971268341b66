// The 3-D model: real parts as flat plates, drawn with WebGL by hand. Paper faces, ink edges.

import { h, put } from "./dom.js";
import { state, watch, meshes } from "./state.js";

const VERTEX = `#version 300 es
in vec3 p; uniform mat4 view; uniform mat4 place; out vec3 at;
void main() { vec4 w = place * vec4(p, 1.0); at = w.xyz; gl_Position = view * w; }`;
const FRAGMENT = `#version 300 es
precision highp float; in vec3 at; uniform vec4 ink; uniform vec3 lamp; uniform float plain; out vec4 colour;
void main() {
  if (plain > 0.5) { colour = ink; return; }
  vec3 n = normalize(cross(dFdx(at), dFdy(at)));
  float light = 0.62 + 0.38 * abs(dot(n, lamp));
  colour = vec4(ink.rgb * light, ink.a);
}`;

export function modelView() {
  const canvas = h("canvas", { tabindex: "0", role: "img", "aria-label": "3-D model of the parts. Arrow keys turn it, plus and minus bring it nearer or further." });
  const note = h("p", { class: "quiet corner" });
  const node = h("div", { class: "third-view" }, canvas, note, h("div", { class: "turns", role: "group", "aria-label": "Look from" },
    ...[["Aslant", 0.62, 0.42], ["Above", -Math.PI / 2, 1.5607], ["Port", -Math.PI / 2, 0], ["Ahead", 0, 0]].map(([title, a, b]) => h("button", { type: "button", onclick: () => { [turn, tilt] = [a, b]; ask(); } }, title))));
  const gl = canvas.getContext("webgl2", { antialias: true, alpha: true, premultipliedAlpha: true });
  if (!gl) {
    put(node, h("p", { class: "quiet" }, "This browser draws no 3-D (WebGL 2 is off). The three views show everything."));
    return { node, close() {} };
  }
  let [turn, tilt, near] = [0.62, 0.42, 1];
  let wanted = false;
  let frames = 0;
  const shapes = new Map();
  const program = build(gl);
  const where = Object.fromEntries(["view", "place", "ink", "lamp", "plain"].map((name) => [name, gl.getUniformLocation(program, name)]));

  function build() {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.bindAttribLocation(made, 0, "p");
    gl.linkProgram(made);
    return made;
  }

  function upload(faces, edges) {
    const make = (numbers) => {
      const vao = gl.createVertexArray();
      const buffer = gl.createBuffer();
      gl.bindVertexArray(vao);
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(numbers), gl.STATIC_DRAW);
      gl.enableVertexAttribArray(0);
      gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 0, 0);
      return { vao, buffer, count: numbers.length / 3 };
    };
    return { faces: make(faces), edges: make(edges) };
  }

  function drop(shape) {
    for (const half of [shape.faces, shape.edges]) { gl.deleteVertexArray(half.vao); gl.deleteBuffer(half.buffer); }
  }

  function shapeOf(name) {
    if (shapes.has(name)) return shapes.get(name);
    const mesh = meshes.get(name);
    if (!mesh) return null;
    const faces = [], edges = [], half = mesh.t / 2;
    for (const w of [half, -half]) for (let i = 0; i < mesh.tri.length; i += 2) faces.push(mesh.tri[i], mesh.tri[i + 1], w);
    for (const ring of mesh.rings) {
      const n = ring.length / 2;
      for (let i = 0; i < n; i += 1) {
        const j = (i + 1) % n, g = (i + n - 1) % n;
        const [ax, ay, bx, by] = [ring[2 * i], ring[2 * i + 1], ring[2 * j], ring[2 * j + 1]];
        faces.push(ax, ay, half, bx, by, half, bx, by, -half, ax, ay, half, bx, by, -half, ax, ay, -half);
        edges.push(ax, ay, half, bx, by, half, ax, ay, -half, bx, by, -half);
        const [px, py] = [ax - ring[2 * g], ay - ring[2 * g + 1]];
        const bend = Math.abs(Math.atan2(px * (by - ay) - py * (bx - ax), px * (bx - ax) + py * (by - ay)));
        if (bend > 0.4) edges.push(ax, ay, half, ax, ay, -half);
      }
    }
    const shape = upload(faces, edges);
    shapes.set(name, shape);
    return shape;
  }

  function box(name) {
    if (shapes.has(name)) return shapes.get(name);
    const faces = [], edges = [];
    const c = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map((p) => p.map((v) => v / 2));
    for (const w of [-0.5, 0.5]) faces.push(...c[0], w, ...c[1], w, ...c[2], w, ...c[0], w, ...c[2], w, ...c[3], w);
    c.forEach((a, i) => {
      const b = c[(i + 1) % 4];
      faces.push(...a, -0.5, ...b, -0.5, ...b, 0.5, ...a, -0.5, ...b, 0.5, ...a, 0.5);
      edges.push(...a, -0.5, ...b, -0.5, ...a, 0.5, ...b, 0.5, ...a, -0.5, ...a, 0.5);
    });
    const shape = upload(faces, edges);
    shapes.set(name, shape);
    return shape;
  }

  function wheel(name) { // a disc of diameter 1 about y, width 1
    if (shapes.has(name)) return shapes.get(name);
    const faces = [], edges = [];
    const at = (i) => [Math.cos(i / 12 * Math.PI) / 2, Math.sin(i / 12 * Math.PI) / 2];
    for (let i = 0; i < 24; i += 1) {
      const [[ax, az], [bx, bz]] = [at(i), at(i + 1)];
      for (const y of [-0.5, 0.5]) { faces.push(0, y, 0, ax, y, az, bx, y, bz); edges.push(ax, y, az, bx, y, bz); }
      faces.push(ax, -0.5, az, bx, -0.5, bz, bx, 0.5, bz, ax, -0.5, az, bx, 0.5, bz, ax, 0.5, az);
    }
    const shape = upload(faces, edges);
    shapes.set(name, shape);
    return shape;
  }

  const place = (m) => [m[0], m[4], m[8], 0, m[1], m[5], m[9], 0, m[2], m[6], m[10], 0, m[3], m[7], m[11], 1];
  const boxed = ([x, y, z], [a, b, c]) => [a, 0, 0, 0, 0, b, 0, 0, 0, 0, c, 0, x, y, z, 1];

  // A box of unit size laid along a line from a to b, `across` wide.
  function along(a, b, across) {
    const d = b.map((v, i) => v - a[i]);
    const length = Math.hypot(...d) || 1;
    const u = d.map((v) => v / length);
    const pick = Math.abs(u[2]) < 0.9 ? [0, 0, 1] : [1, 0, 0];
    const v = [u[1] * pick[2] - u[2] * pick[1], u[2] * pick[0] - u[0] * pick[2], u[0] * pick[1] - u[1] * pick[0]];
    const vl = Math.hypot(...v);
    const n = v.map((e) => e / vl);
    const w = [u[1] * n[2] - u[2] * n[1], u[2] * n[0] - u[0] * n[2], u[0] * n[1] - u[1] * n[0]];
    const m = a.map((e, i) => (e + b[i]) / 2);
    return [...u.map((e) => e * length), 0, ...n.map((e) => e * across), 0, ...w.map((e) => e * across), 0, ...m, 1];
  }

  let tones = null;
  function colours() {
    if (tones) return tones;
    const style = getComputedStyle(document.documentElement);
    const read = (name) => style.getPropertyValue(name).trim().split(/\s+/).map(Number).map((v) => v / 255);
    tones = { paper: read("--gl-paper"), tail: read("--gl-tail"), body: read("--gl-body"), ink: read("--gl-ink"), item: read("--gl-item"), pack: read("--gl-pack") };
    return tones;
  }

  function list() {
    const things = [];
    const c = colours();
    const tone = { wing: c.paper, tail: c.tail, fin: c.tail, body: c.body, strut: c.body };
    const model = state.model;
    const plates = state.plates;
    const surfacesToo = !plates;
    for (const part of model?.parts ?? []) {
      if (!surfacesToo && ["wing", "tail", "fin"].includes(part.group)) continue;
      const shape = shapeOf(part.mesh);
      if (shape) things.push([shape, place(part.at), tone[part.group] ?? c.body]);
    }
    for (const part of plates?.parts ?? []) {
      const shape = shapeOf(part.mesh);
      if (shape) things.push([shape, place(part.at), tone[part.group] ?? c.body]);
    }
    for (const rod of model?.rods ?? []) {
      if (!surfacesToo && ["wing", "tail", "fin"].includes(rod.group)) continue;
      for (let i = 1; i < rod.points.length; i += 1) things.push([box("box"), along(rod.points[i - 1], rod.points[i], Math.max(1.2, rod.across * 0.6)), c.item]);
    }
    for (const item of state.scene?.items ?? []) {
      for (const side of item.pair ? [1, -1] : [1]) {
        const at = [item.at[0], item.at[1] * side, item.at[2]];
        if (item.kind === "wheel") { things.push([wheel("wheel"), boxed(at, item.size), c.item]); continue; }
        const shift = item.kind === "motor" ? (item.pusher ? 0.5 : -0.5) * item.size[0] : 0;
        things.push([box("box"), boxed([at[0] + shift, at[1], at[2]], item.size), item.kind === "pack" ? c.pack : c.item]);
        if (item.disc) {
          const face = at[0] + (item.pusher ? 1 : -1) * item.size[0];
          things.push([wheel("wheel"), [0, item.disc, 0, 0, 1.5, 0, 0, 0, 0, 0, item.disc, 0, face, at[1], at[2], 1], [...c.ink, 0.10], "glass"]);
        }
      }
    }
    return { things, c };
  }

  function middle() {
    let low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
    for (const surface of state.scene?.surfaces ?? []) for (const p of surface.line) {
      for (const q of surface.mirrored ? [p, [p[0], -p[1], p[2]]] : [p]) { low = low.map((v, i) => Math.min(v, q[i])); high = high.map((v, i) => Math.max(v, q[i])); }
    }
    for (const [x, z] of state.scene?.body?.profile ?? []) { low = [Math.min(low[0], x), low[1], Math.min(low[2], z)]; high = [Math.max(high[0], x), high[1], Math.max(high[2], z)]; }
    if (!Number.isFinite(low[0])) return { at: [200, 0, 0], radius: 400 };
    return { at: low.map((v, i) => (v + high[i]) / 2), radius: Math.hypot(...high.map((v, i) => v - low[i])) / 2 };
  }

  function viewMatrix(aspect) {
    const { at, radius } = middle();
    // The eye: turn about z (0 looks from ahead to starboard), tilt above the horizon.
    const d = [-Math.cos(turn) * Math.cos(tilt), Math.sin(turn) * Math.cos(tilt), Math.sin(tilt)];
    const right = [-Math.sin(turn), -Math.cos(turn), 0];
    const up = [right[1] * d[2] - right[2] * d[1], right[2] * d[0] - right[0] * d[2], right[0] * d[1] - right[1] * d[0]].map((v) => -v);
    const reach = radius * 1.02 / near;
    const [sx, sy] = aspect > 1 ? [1 / (reach * aspect), 1 / reach] : [1 / reach, aspect / reach];
    const rows = [right.map((v) => v * sx), up.map((v) => v * sy), d.map((v) => -v / (4 * radius))];
    const shift = rows.map((row) => -row.reduce((sum, v, i) => sum + v * at[i], 0));
    return { m: [rows[0][0], rows[1][0], rows[2][0], 0, rows[0][1], rows[1][1], rows[2][1], 0, rows[0][2], rows[1][2], rows[2][2], 0, ...shift, 1], d };
  }

  function draw() {
    wanted = false;
    const ratio = Math.min(2, devicePixelRatio || 1);
    const [w, t] = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
    if (w < 2 || t < 2) return;
    if (canvas.width !== w || canvas.height !== t) { canvas.width = w; canvas.height = t; }
    gl.viewport(0, 0, w, t);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.useProgram(program);
    const { m, d } = viewMatrix(w / t);
    gl.uniformMatrix4fv(where.view, false, m);
    const lamp = [d[0] * 0.6 - 0.2, d[1] * 0.6 + 0.3, d[2] * 0.6 + 0.6];
    const length = Math.hypot(...lamp);
    gl.uniform3f(where.lamp, ...lamp.map((v) => v / length));
    const { things, c } = list();
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 1);
    for (const [shape, at, tone, kind] of things) {
      if (kind === "glass") continue;
      gl.uniformMatrix4fv(where.place, false, at);
      gl.uniform1f(where.plain, 0);
      gl.uniform4f(where.ink, ...tone, 1);
      gl.bindVertexArray(shape.faces.vao);
      gl.drawArrays(gl.TRIANGLES, 0, shape.faces.count);
      gl.uniform1f(where.plain, 1);
      gl.uniform4f(where.ink, ...c.ink, 1);
      gl.bindVertexArray(shape.edges.vao);
      gl.drawArrays(gl.LINES, 0, shape.edges.count);
    }
    gl.disable(gl.POLYGON_OFFSET_FILL);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.depthMask(false);
    for (const [shape, at, tone, kind] of things) {
      if (kind !== "glass") continue;
      gl.uniformMatrix4fv(where.place, false, at);
      gl.uniform1f(where.plain, 1);
      const a = tone[3];
      gl.uniform4f(where.ink, tone[0] * a, tone[1] * a, tone[2] * a, a);
      gl.bindVertexArray(shape.faces.vao);
      gl.drawArrays(gl.TRIANGLES, 0, shape.faces.count);
    }
    gl.depthMask(true);
    gl.disable(gl.BLEND);
    if (shapes.size > 400) prune();
    frames += 1;
    canvas.dataset.frames = String(frames);
    note.textContent = state.plates ? "whole plates while you drag" : "";
  }

  function prune() {
    const kept = new Set(["box", "wheel", ...(state.model?.parts ?? []).map((p) => p.mesh), ...(state.plates?.parts ?? []).map((p) => p.mesh)]);
    for (const [name, shape] of shapes) if (!kept.has(name)) { drop(shape); shapes.delete(name); }
  }

  function ask() { if (!wanted) { wanted = true; requestAnimationFrame(draw); } }

  let last = null;
  const fingers = new Map(); // two of them bring it closer
  const apart = () => { const [a, b] = [...fingers.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]); };
  canvas.addEventListener("pointerdown", (event) => { last = [event.clientX, event.clientY]; fingers.set(event.pointerId, last); canvas.setPointerCapture(event.pointerId); });
  for (const kind of ["touchstart", "touchmove"]) canvas.addEventListener(kind, (event) => { if (event.touches.length > 1 && event.cancelable) event.preventDefault(); }, { passive: false });
  canvas.addEventListener("pointermove", (event) => {
    if (fingers.size === 2 && fingers.has(event.pointerId)) {
      const before = apart();
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      near = Math.max(0.5, Math.min(8, near * apart() / Math.max(1, before)));
      last = null;
      canvas.dataset.near = near.toFixed(3);
      ask();
      return;
    }
    if (!last) return;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    turn += (event.clientX - last[0]) * 0.01;
    tilt = Math.max(-1.56, Math.min(1.56, tilt + (event.clientY - last[1]) * 0.01));
    last = [event.clientX, event.clientY];
    ask();
  });
  for (const kind of ["pointerup", "pointercancel"]) canvas.addEventListener(kind, (event) => { last = null; fingers.delete(event.pointerId); });
  canvas.addEventListener("wheel", (event) => { if (!event.ctrlKey && document.activeElement !== canvas) return; event.preventDefault(); near = Math.max(0.5, Math.min(8, near * Math.exp(-event.deltaY * 0.001))); ask(); }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[event.key];
    if (by) { turn += by[0]; tilt = Math.max(-1.56, Math.min(1.56, tilt + by[1])); event.preventDefault(); ask(); }
    if (event.key === "+" || event.key === "=") { near = Math.min(8, near * 1.15); ask(); }
    if (event.key === "-") { near = Math.max(0.5, near / 1.15); ask(); }
  });
  const offs = [watch("model", ask), watch("scene", ask), watch("drawn", ask), watch("look", () => { tones = null; ask(); })];
  const seen = new ResizeObserver(ask);
  seen.observe(canvas);
  ask();
  return { node, close() { offs.forEach((off) => off()); seen.disconnect(); for (const shape of shapes.values()) drop(shape); gl.getExtension("WEBGL_lose_context")?.loseContext(); } };
}
