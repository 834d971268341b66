// Outlines over a picture: nodes in its pixels, halves and their mirror, and a line that parts one outline into two.
//
// A node is {x, y, before, after}: its place and, where the line bends, its two handles. Axes are those of a found view:
// (a, b) in millimetres lies at origin + a * first + b * second.

export const keyOf = (o) => `${o.part}/${o.view}/${o.name}`;
export const copy = (value) => structuredClone(value);
const round = (v) => Math.round(v * 100) / 100;
const at = (n) => [n.x, n.y];

export const laid = (axes, [a, b]) => [axes.origin[0] + a * axes.first[0] + b * axes.second[0], axes.origin[1] + a * axes.first[1] + b * axes.second[1]];

// Path data of a found outline, as nodes on the picture.
export function nodesOf(path, axes) {
  const numbers = (text) => (text.match(/-?\d+(\.\d+)?/g) ?? []).map(Number);
  const nodes = [];
  for (const [, kind, rest] of path.matchAll(/([MLCZ])([^MLCZ]*)/g)) {
    const v = numbers(rest);
    const p = (i) => laid(axes, [v[i], v[i + 1]]).map(round);
    if (kind === "Z") continue;
    const [x, y] = p(v.length - 2);
    if (kind === "C") { nodes[nodes.length - 1].after = p(0); nodes.push({ x, y, before: p(2) }); } else nodes.push({ x, y });
  }
  const [first, last] = [nodes[0], nodes[nodes.length - 1]];
  if (path.includes("Z") && nodes.length > 3 && Math.hypot(first.x - last.x, first.y - last.y) < 0.75) { if (last.before) first.before = last.before; nodes.pop(); }
  return nodes;
}

export function pathOf(nodes, closed) {
  const leg = (a, b) => (!a.after && !b.before ? `L${b.x} ${b.y}` : `C${(a.after ?? at(a)).join(" ")} ${(b.before ?? at(b)).join(" ")} ${b.x} ${b.y}`);
  let d = `M${nodes[0].x} ${nodes[0].y}`;
  for (let i = 1; i < nodes.length; i += 1) d += leg(nodes[i - 1], nodes[i]);
  return closed ? `${d}${leg(nodes[nodes.length - 1], nodes[0])}Z` : d;
}

// The mirror line: a point of it and its direction.
export function mirrorLine(marks, tracing) {
  if (marks.centre_line) { const [a, b] = marks.centre_line; const run = Math.hypot(b[0] - a[0], b[1] - a[1]); return { a, d: [(b[0] - a[0]) / run, (b[1] - a[1]) / run] }; }
  const axes = tracing?.views.find((v) => v.kind === "top")?.axes;
  if (!axes) return null;
  const run = Math.hypot(...axes.first);
  return { a: axes.origin, d: axes.first.map((v) => v / run) };
}

export function mirrored(nodes, line) {
  const turn = ([x, y]) => {
    const [u, v] = [x - line.a[0], y - line.a[1]];
    const along = u * line.d[0] + v * line.d[1];
    return [round(line.a[0] + 2 * along * line.d[0] - u), round(line.a[1] + 2 * along * line.d[1] - v)];
  };
  return nodes.map((n) => { const [x, y] = turn(at(n)); return { x, y, before: n.before && turn(n.before), after: n.after && turn(n.after) }; });
}

export function moveNode(nodes, i, x, y) {
  const fresh = copy(nodes);
  const n = fresh[i];
  const [du, dv] = [x - n.x, y - n.y];
  for (const side of ["before", "after"]) if (n[side]) n[side] = [round(n[side][0] + du), round(n[side][1] + dv)];
  Object.assign(n, { x: round(x), y: round(y) });
  return fresh;
}

export function moveHandle(nodes, i, side, x, y, alone) {
  const fresh = copy(nodes);
  const n = fresh[i];
  const other = side === "before" ? "after" : "before";
  if (n[other] && !alone) {
    const was = [n[side][0] - n.x, n[side][1] - n.y], opposite = [n[other][0] - n.x, n[other][1] - n.y];
    const cross = was[0] * opposite[1] - was[1] * opposite[0];
    const [a, b] = [Math.hypot(...was), Math.hypot(...opposite)];
    if (Math.abs(cross) < 0.08 * a * b && was[0] * opposite[0] + was[1] * opposite[1] < 0) {
      const run = Math.hypot(x - n.x, y - n.y) || 1;
      n[other] = [round(n.x - (x - n.x) / run * b), round(n.y - (y - n.y) / run * b)];
    }
  }
  n[side] = [round(x), round(y)];
  return fresh;
}

// A point on the way from node i to the next, and the nodes with it put in.
export function withNode(nodes, i, t, closed) {
  const fresh = copy(nodes);
  const j = (i + 1) % nodes.length;
  if (j === 0 && !closed) return fresh;
  const [a, b] = [fresh[i], fresh[j]];
  const between = ([p, q], [r, s]) => [p + (r - p) * t, q + (s - q) * t];
  let made;
  if (!a.after && !b.before) { const [x, y] = between(at(a), at(b)); made = { x, y }; } else {
    const [p0, p1, p2, p3] = [at(a), a.after ?? at(a), b.before ?? at(b), at(b)];
    const [q0, q1, q2] = [between(p0, p1), between(p1, p2), between(p2, p3)];
    const [r0, r1] = [between(q0, q1), between(q1, q2)];
    const [x, y] = between(r0, r1);
    a.after = q0.map(round);
    b.before = q2.map(round);
    made = { x, y, before: r0.map(round), after: r1.map(round) };
  }
  fresh.splice(i + 1, 0, { ...made, x: round(made.x), y: round(made.y) });
  return fresh;
}

export function curveOrCorner(nodes, i, closed) {
  const fresh = copy(nodes);
  const n = fresh[i];
  if (n.before || n.after) { delete n.before; delete n.after; return fresh; }
  const count = nodes.length;
  const p = closed ? nodes[(i + count - 1) % count] : nodes[i - 1], q = closed ? nodes[(i + 1) % count] : nodes[i + 1];
  const [from, to] = [p ?? n, q ?? n];
  const run = Math.hypot(to.x - from.x, to.y - from.y) || 1;
  const d = [(to.x - from.x) / run, (to.y - from.y) / run];
  if (p) { const l = Math.hypot(n.x - p.x, n.y - p.y) / 3; n.before = [round(n.x - d[0] * l), round(n.y - d[1] * l)]; }
  if (q) { const l = Math.hypot(q.x - n.x, q.y - n.y) / 3; n.after = [round(n.x + d[0] * l), round(n.y + d[1] * l)]; }
  return fresh;
}

const pointAt = (a, b, t) => {
  const [p0, p1, p2, p3] = [at(a), a.after ?? at(a), b.before ?? at(b), at(b)];
  if (!a.after && !b.before) return [p0[0] + (p3[0] - p0[0]) * t, p0[1] + (p3[1] - p0[1]) * t];
  const w = [(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t ** 2 * (1 - t), t ** 3];
  return [0, 1].map((k) => w[0] * p0[k] + w[1] * p1[k] + w[2] * p2[k] + w[3] * p3[k]);
};

// The place on an outline nearest to a point: {i, t, distance}.
export function nearest(nodes, closed, [x, y]) {
  let best = { distance: Infinity };
  for (let i = 0; i < (closed ? nodes.length : nodes.length - 1); i += 1) {
    for (let k = 0; k < 40; k += 1) {
      const t = (k + 0.5) / 40;
      const p = pointAt(nodes[i], nodes[(i + 1) % nodes.length], t);
      const distance = Math.hypot(p[0] - x, p[1] - y);
      if (distance < best.distance) best = { i, t, distance };
    }
  }
  return best;
}

// Part a ring by the line from p to q, however often it crosses: rings of nodes, the largest first; null where it parts nothing.
//
// Along the whole line the crossings alternate between in and out, so that they bound its inner stretches two by two; a
// stretch that the drawn line covers from end to end is a cut.
export function parted(nodes, p, q) {
  const run = Math.hypot(q[0] - p[0], q[1] - p[1]);
  const within = (c) => c.where > -0.02 * run && c.where < 1.02 * run;
  const crossed = crossings(nodes, p, q);
  if (crossed.length % 2) return null;
  const cuts = [];
  for (let k = 0; k < crossed.length; k += 2) {
    const pair = crossed.slice(k, k + 2);
    if (pair.every(within)) { for (const each of pair) each.cut = k + 1; cuts.push(k + 1); }
  }
  if (!cuts.length) return null;
  let pieces = [withCuts(nodes, crossed.filter((c) => c.cut))];
  for (const cut of cuts) {
    pieces = pieces.flatMap((ring) => {
      const [m, n] = ring.flatMap((node, i) => (node.cut === cut ? [i] : []));
      return n === undefined ? [ring] : [trimmed(ring.slice(m, n + 1)), trimmed([...ring.slice(n), ...ring.slice(0, m + 1)])];
    });
  }
  for (const node of pieces.flat()) delete node.cut;
  return pieces.sort((a, b) => sizeOf(b) - sizeOf(a));
}

const trimmed = (piece) => { const made = copy(piece); delete made[0].before; delete made[made.length - 1].after; return made; };
const sizeOf = (piece) => Math.abs(piece.reduce((sum, a, i) => { const b = piece[(i + 1) % piece.length]; return sum + a.x * b.y - b.x * a.y; }, 0));

// Where a closed outline crosses the line through p and q: {i, t, where}, in their order along it.
function crossings(nodes, p, q) {
  const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
  const run = Math.hypot(dx, dy);
  const side = ([x, y]) => (dx * (y - p[1]) - dy * (x - p[0])) / run;
  const found = [];
  nodes.forEach((a, i) => {
    const b = nodes[(i + 1) % nodes.length];
    const steps = a.after || b.before ? 48 : 1;
    for (let k = 0; k < steps; k += 1) {
      let [low, high] = [k / steps, (k + 1) / steps];
      const [s, e] = [side(pointAt(a, b, low)), side(pointAt(a, b, high))];
      if ((s < 0) === (e < 0)) continue;
      for (let n = 0; n < 30; n += 1) { const mid = (low + high) / 2; if ((side(pointAt(a, b, mid)) < 0) === (s < 0)) low = mid; else high = mid; }
      const t = (low + high) / 2;
      const [x, y] = pointAt(a, b, t);
      found.push({ i, t, where: ((x - p[0]) * dx + (y - p[1]) * dy) / run });
    }
  });
  return found.sort((a, b) => a.where - b.where);
}

// The ring with a node at each crossing, marked with its cut; from the back, so that places ahead stay what they are.
function withCuts(nodes, crossed) {
  let ring = copy(nodes);
  let behind = null;
  for (const c of [...crossed].sort((a, b) => b.i - a.i || b.t - a.t)) {
    ring = withNode(ring, c.i, behind?.i === c.i ? c.t / behind.t : c.t, true);
    ring[c.i + 1].cut = c.cut;
    behind = c;
  }
  return ring;
}

// A place drawn on to the middle of the ink nearest to it, where there is any within reach.
// `grey` is {data, width, height, times}: the picture's grey levels, and how many of its pixels one of them covers.
export function toInk(grey, [x, y], reach) {
  if (!grey) return [x, y];
  const { data, width, height, times } = grey;
  const level = (u, v) => (u < 0 || v < 0 || u >= width || v >= height ? 255 : data[4 * (v * width + u)]);
  const around = (cx, cy, r, take) => { for (let v = Math.round(cy - r); v <= cy + r; v += 1) for (let u = Math.round(cx - r); u <= cx + r; u += 1) { const far = Math.hypot(u - cx, v - cy); if (far <= r) take(u, v, far); } };
  const [cx, cy] = [x / times - 0.5, y / times - 0.5];
  let near = null;
  around(cx, cy, Math.max(2, reach / times), (u, v, far) => { if (level(u, v) < 110 && (!near || far < near[2])) near = [u, v, far]; });
  if (!near) return [x, y];
  let [sum, sx, sy] = [0, 0, 0];
  around(near[0], near[1], 4, (u, v, far) => { const dark = Math.max(0, 150 - level(u, v)) / (1 + far); sum += dark; sx += dark * u; sy += dark * v; });
  return [round((sx / sum + 0.5) * times), round((sy / sum + 0.5) * times)];
}
