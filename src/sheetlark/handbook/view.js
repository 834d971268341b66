// A small 3-D view of sheets in space. It asks for nothing beyond this page.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("model-data").textContent);
  const canvas = document.getElementById("view");
  const upTo = document.getElementById("up-to");
  const apart = document.getElementById("apart");
  const says = document.getElementById("view-says");
  const gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
  const numbers = (text) => {
    const raw = atob(text), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    return new Int16Array(bytes.buffer);
  };
  for (const box of document.querySelectorAll("input[data-step]")) {
    const key = data.name + ":" + box.dataset.step;
    try { box.checked = localStorage.getItem(key) === "1"; } catch (_) { /* a page from a file may not keep things */ }
    box.addEventListener("change", () => {
      try { localStorage.setItem(key, box.checked ? "1" : "0"); } catch (_) { /* same */ }
    });
  }
  if (!gl) {
    says.textContent = "This browser draws no 3-D here; the pictures of the steps show the same.";
    canvas.hidden = true;
    return;
  }
  const program = (vertex, fragment) => {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    return made;
  };
  const faces = program(
    `attribute vec3 p; attribute vec3 n; uniform mat4 m; uniform vec3 off; uniform vec3 light; varying float shade;
     void main() { gl_Position = m * vec4(p + off, 1.0); shade = 0.62 + 0.38 * abs(dot(normalize(n), light)); }`,
    `precision mediump float; uniform vec3 colour; varying float shade;
     void main() { gl_FragColor = vec4(colour * shade, 1.0); }`);
  const lines = program(
    `attribute vec3 p; uniform mat4 m; uniform vec3 off; void main() { gl_Position = m * vec4(p + off, 1.0); gl_Position.z -= 0.0012 * gl_Position.w; }`,
    `precision mediump float; uniform vec3 colour; void main() { gl_FragColor = vec4(colour, 1.0); }`);
  const buffer = (array) => {
    const made = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, made);
    gl.bufferData(gl.ARRAY_BUFFER, array, gl.STATIC_DRAW);
    return made;
  };
  const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
  for (const item of data.items) {
    const t = numbers(item.t), e = numbers(item.e), s = data.step;
    const place = new Float32Array(t.length), normal = new Float32Array(t.length), edge = new Float32Array(e.length);
    for (let i = 0; i < t.length; i++) {
      place[i] = t[i] * s;
      low[i % 3] = Math.min(low[i % 3], place[i]);
      high[i % 3] = Math.max(high[i % 3], place[i]);
    }
    for (let i = 0; i < e.length; i++) edge[i] = e[i] * s;
    for (let i = 0; i < t.length; i += 9) {
      const a = [0, 1, 2].map((k) => place[i + 3 + k] - place[i + k]), b = [0, 1, 2].map((k) => place[i + 6 + k] - place[i + k]);
      const n = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
      const size = Math.hypot(...n) || 1;
      for (let v = 0; v < 3; v++) for (let k = 0; k < 3; k++) normal[i + 3 * v + k] = n[k] / size;
    }
    item.place = buffer(place); item.normal = buffer(normal); item.edge = buffer(edge);
    item.count = t.length / 3; item.ends = e.length / 3;
  }
  const middle = low.map((v, k) => 0.5 * (v + high[k]));
  const size = Math.hypot(...low.map((v, k) => high[k] - v));
  let around = 0.66, above = 0.42, zoom = 1.5, shiftX = 0, shiftY = 0, asked = false;

  const matrix = () => {
    const ca = Math.cos(above), sa = Math.sin(above), cr = Math.cos(around), sr = Math.sin(around);
    const to = [-ca * sr, ca * cr, sa];
    const right = [-cr, -sr, 0];
    const up = [to[1] * right[2] - to[2] * right[1], to[2] * right[0] - to[0] * right[2], to[0] * right[1] - to[1] * right[0]];
    const wide = canvas.width / canvas.height;
    const scale = 1.75 * zoom / size;
    const near = 1 / (2.2 * size);
    const dot = (v) => v[0] * middle[0] + v[1] * middle[1] + v[2] * middle[2];
    const kx = wide >= 1 ? scale / wide : scale, ky = wide >= 1 ? scale : scale * wide;
    return { to, m: new Float32Array([
      kx * right[0], ky * up[0], -near * to[0], 0,
      kx * right[1], ky * up[1], -near * to[1], 0,
      kx * right[2], ky * up[2], -near * to[2], 0,
      -kx * dot(right) + shiftX, -ky * dot(up) + shiftY, near * dot(to), 1]) };
  };
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const draw = () => {
    asked = false;
    const ratio = Math.min(devicePixelRatio || 1, 2);
    const w = Math.round(canvas.clientWidth * ratio), h = Math.round(canvas.clientHeight * ratio);
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    gl.viewport(0, 0, w, h);
    const back = dark.matches ? [0.12, 0.13, 0.14] : [0.97, 0.965, 0.95];
    gl.clearColor(back[0], back[1], back[2], 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    const { to, m } = matrix();
    const last = Number(upTo.value), spread = Number(apart.value) / 100 * size * 0.35;
    const light = [to[0] * 0.7 + 0.1, to[1] * 0.7 + 0.2, to[2] * 0.7 + 0.5], l = Math.hypot(...light);
    for (const item of data.items) {
      if (item.s > last) continue;
      const off = [0, 1, 2].map((k) => item.w[k] * spread + (item.c[k] - middle[k]) / size * spread * 0.8);
      const fresh = item.s === last && last < data.steps;
      gl.useProgram(faces);
      gl.uniformMatrix4fv(gl.getUniformLocation(faces, "m"), false, m);
      gl.uniform3f(gl.getUniformLocation(faces, "off"), off[0], off[1], off[2]);
      gl.uniform3f(gl.getUniformLocation(faces, "light"), light[0] / l, light[1] / l, light[2] / l);
      const c = fresh ? [0.93, 0.62, 0.42] : item.k;
      gl.uniform3f(gl.getUniformLocation(faces, "colour"), c[0], c[1], c[2]);
      for (const [name, from] of [["p", item.place], ["n", item.normal]]) {
        const at = gl.getAttribLocation(faces, name);
        gl.bindBuffer(gl.ARRAY_BUFFER, from);
        gl.enableVertexAttribArray(at);
        gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
      }
      gl.drawArrays(gl.TRIANGLES, 0, item.count);
      gl.useProgram(lines);
      gl.uniformMatrix4fv(gl.getUniformLocation(lines, "m"), false, m);
      gl.uniform3f(gl.getUniformLocation(lines, "off"), off[0], off[1], off[2]);
      gl.uniform3f(gl.getUniformLocation(lines, "colour"), 0.13, 0.13, 0.15);
      const at = gl.getAttribLocation(lines, "p");
      gl.bindBuffer(gl.ARRAY_BUFFER, item.edge);
      gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
      gl.drawArrays(gl.LINES, 0, item.ends);
    }
    says.textContent = last >= data.steps ? "Finished." : "Step " + last + ": " + data.titles[last - 1];
  };
  const ask = () => { if (!asked) { asked = true; requestAnimationFrame(draw); } };
  const held = new Map();
  let gap = 0;
  canvas.addEventListener("pointerdown", (e) => { canvas.setPointerCapture(e.pointerId); held.set(e.pointerId, [e.clientX, e.clientY]); });
  canvas.addEventListener("pointermove", (e) => {
    const was = held.get(e.pointerId);
    if (!was) return;
    const dx = e.clientX - was[0], dy = e.clientY - was[1];
    held.set(e.pointerId, [e.clientX, e.clientY]);
    if (held.size === 2) {
      const [a, b] = [...held.values()], now = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (gap) zoom = Math.min(12, Math.max(0.4, zoom * now / gap));
      gap = now;
    } else if (e.shiftKey) {
      shiftX += 2 * dx / canvas.clientWidth; shiftY -= 2 * dy / canvas.clientHeight;
    } else {
      around += dx * 0.008; above = Math.min(1.55, Math.max(-1.55, above + dy * 0.008));
    }
    ask();
  });
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, (e) => { held.delete(e.pointerId); gap = 0; });
  canvas.addEventListener("wheel", (e) => { e.preventDefault(); zoom = Math.min(12, Math.max(0.4, zoom * Math.exp(-e.deltaY * 0.0012))); ask(); }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const turn = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[e.key];
    if (turn) { around += turn[0]; above = Math.min(1.55, Math.max(-1.55, above + turn[1])); }
    else if (e.key === "+" || e.key === "=") zoom = Math.min(12, zoom * 1.15);
    else if (e.key === "-") zoom = Math.max(0.4, zoom / 1.15);
    else if (e.key === "Home") { around = 0.66; above = 0.42; zoom = 1.5; shiftX = shiftY = 0; }
    else return;
    e.preventDefault(); ask();
  });
  upTo.addEventListener("input", ask);
  apart.addEventListener("input", ask);
  addEventListener("resize", ask);
  dark.addEventListener("change", ask);
  for (const button of document.querySelectorAll("button[data-show]")) {
    button.addEventListener("click", () => { upTo.value = button.dataset.show; ask(); canvas.scrollIntoView({ block: "center" }); });
  }
  draw();
})();
