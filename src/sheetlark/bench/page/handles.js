// What can be dragged on the views, and what a new place of it changes in the design.

import { held } from "./dom.js";
import { mm } from "./units.js";
import { state } from "./state.js";
import { begins, key, tidy } from "./places.js";

// A handle: where it is in space, in which views it can be had, what a new place changes, how it is said.
export function handlesOf(scene, values) {
  const chosen = state.selected;
  const handles = [];
  const move = (where, views, at, says, make, from) => handles.push({ key: `${key(where)}:${says}`, views, at, says, make, where, from });
  for (const surface of scene.surfaces) {
    if (!chosen || !begins(chosen, surface.where) && key(chosen) !== key(surface.where)) continue;
    if (begins(chosen, surface.where)) surfaceHandles(surface, held(values, surface.where), move);
  }
  if (scene.body && chosen?.[0] === "body") bodyHandles(scene.body, move);
  for (const item of scene.items) itemHandle(item, values, move, chosen);
  return handles;
}

function surfaceHandles(surface, stated, move) {
  const where = surface.where;
  const fin = surface.role === "fin";
  const views = fin ? ["side"] : ["top"];
  const [ax, ay, az] = surface.at;
  const dihedral = fin ? 0 : stated.dihedral;
  const place = ([u, v]) => surface.axes.map((row, i) => surface.at[i] + row[0] * u + row[1] * v);
  const flatly = (p) => (fin ? [p.x - ax, p.z - az] : [p.x - ax, p.y / Math.cos(dihedral)]);
  const [sx, sz] = [stated.at[0] * 1000, stated.at[1] * 1000];
  move(where, ["side"], [ax, ay, az], `${surface.name}, place`, (p) => [[[...where, "at"], [p.x ?? sx, p.z ?? sz]]]);
  if (!fin) {
    move(where, ["top"], [ax, 0, az], `${surface.name}, place along the body`, (p) => [[[...where, "at"], [p.x, sz]]]);
    const tip = place([0, tipOf(surface.nodes)]);
    move(where, ["front"], tip, `${surface.name}, dihedral`, (p) => [[[...where, "dihedral"],
      tidy(Math.atan2(p.z - az, Math.max(1, Math.abs(p.y))) * 180 / Math.PI)]]);
  }
  if (stated.outline === null || stated.outline === undefined) {
    const span = (fin ? stated.height : stated.span / 2) * 1000;
    const root = stated.root_chord * 1000;
    const tipChord = (stated.tip_chord ?? stated.root_chord) * 1000;
    const shift = Math.tan(stated.sweep) * span;
    const [spanKey, times] = fin ? ["height", 1] : ["span", 2];
    move(where, views, place([shift, span]), `${surface.name}, tip leading edge: ${fin ? "height" : "span"} and sweep`, (p) => {
      const [u, v] = flatly(p);
      const half = Math.max(20, Math.abs(v));
      return [[[...where, spanKey], tidy(times * half)],
        [[...where, "sweep"], tidy(Math.max(-75, Math.min(75, Math.atan2(u, half) * 180 / Math.PI)))]];
    });
    move(where, views, place([shift + tipChord, span]), `${surface.name}, tip chord`, (p) => {
      const [u] = flatly(p);
      return [[[...where, "tip_chord"], tidy(Math.max(1, u - shift))]];
    });
    move(where, views, place([root, 0]), `${surface.name}, root chord`, (p) => {
      const [u] = flatly(p);
      return [[[...where, "root_chord"], tidy(Math.max(5, u))]];
    });
    return;
  }
  const last = surface.nodes.length - 1;
  nodeHandles(surface.nodes, false, surface.name, views, place, flatly, (nodes) => [[[...where, "outline"], pathOf(nodes, false)]],
    move, where, (i, [u, v]) => [u, i === 0 || i === last ? 0 : Math.max(0, v)]);
}

const tipOf = (nodes) => Math.max(...nodes.map((n) => n.y));

function bodyHandles(body, move) {
  const where = ["body"];
  nodeHandles(body.nodes, true, "side profile", ["side"], ([x, z]) => [x, 0, z], (p) => [p.x, p.z],
    (nodes) => [[["body", "profile"], pathOf(nodes, true)]], move, where, (_i, at) => at);
  body.width.forEach(([x, w], i) => {
    move(["body", "width", i], ["top"], [x, w / 2, 0], `body width at station ${i + 1}`, (p) => {
      const rows = body.width.map((row) => [...row]);
      const [low, high] = [rows[i - 1]?.[0] ?? -Infinity, rows[i + 1]?.[0] ?? Infinity];
      rows[i] = [Math.min(high - 1, Math.max(low + 1, p.x)), tidy(Math.max(2, 2 * Math.abs(p.y)))];
      return [[["body", "width"], rows]];
    });
  });
  for (const former of body.formers) {
    move(former.where, ["side"], [former.x, 0, (former.bottom + former.top) / 2], `former at ${mm(former.x, 0)}`,
      (p) => [[[...former.where, "at"], p.x]]);
  }
}

function nodeHandles(nodes, closed, name, views, place, flatly, changes, move, where, bound) {
  const copy = () => nodes.map((n) => ({ ...n, in: n.in && [...n.in], out: n.out && [...n.out] }));
  nodes.forEach((node, i) => {
    move(where, views, place([node.x, node.y]), `${name}, node ${i + 1}`, (p) => {
      const [u, v] = bound(i, flatly(p));
      const fresh = copy();
      const [du, dv] = [u - node.x, v - node.y];
      Object.assign(fresh[i], { x: tidy(u), y: tidy(v) });
      for (const side of ["in", "out"]) {
        if (fresh[i][side]) fresh[i][side] = [tidy(fresh[i][side][0] + du), tidy(fresh[i][side][1] + dv)];
      }
      return changes(fresh);
    });
    for (const side of ["in", "out"]) {
      if (!node[side]) continue;
      move(where, views, place(node[side]), `${name}, node ${i + 1}, handle ${side === "in" ? "before" : "after"}`, (p, event) => {
        const [u, v] = flatly(p);
        const fresh = copy();
        fresh[i][side] = [tidy(u), tidy(v)];
        const other = side === "in" ? "out" : "in";
        if (fresh[i][other] && !event?.shiftKey && smooth(node)) {
          const [du, dv] = [u - node.x, v - node.y];
          const length = Math.hypot(node[other][0] - node.x, node[other][1] - node.y);
          const run = Math.hypot(du, dv) || 1;
          fresh[i][other] = [tidy(node.x - du / run * length), tidy(node.y - dv / run * length)];
        }
        return changes(fresh);
      }, place([node.x, node.y]));
    }
  });
}

function smooth(node) {
  if (!node.in || !node.out) return false;
  const a = [node.x - node.in[0], node.y - node.in[1]];
  const b = [node.out[0] - node.x, node.out[1] - node.y];
  const cross = a[0] * b[1] - a[1] * b[0];
  return Math.abs(cross) < 0.05 * Math.hypot(...a) * Math.hypot(...b) && a[0] * b[0] + a[1] * b[1] > 0;
}

export function pathOf(nodes, closed) {
  const p = ([x, y]) => `${tidy(x)} ${tidy(y)}`;
  const words = [`M ${p([nodes[0].x, nodes[0].y])}`];
  const leg = (a, b) => {
    if (!a.out && !b.in) return `L ${p([b.x, b.y])}`;
    return `C ${p(a.out ?? [a.x, a.y])}, ${p(b.in ?? [b.x, b.y])}, ${p([b.x, b.y])}`;
  };
  for (let i = 1; i < nodes.length; i += 1) words.push(leg(nodes[i - 1], nodes[i]));
  if (closed) {
    const [a, b] = [nodes[nodes.length - 1], nodes[0]];
    if (a.out || b.in) words.push(leg(a, b));
    words.push("Z");
  }
  return words.join(" ");
}

function itemHandle(item, values, move, chosen) {
  const always = item.kind === "pack";
  if (!always && !(chosen && begins(item.where, chosen)) && key(chosen ?? []) !== key(item.where)) return;
  const stated = held(values, item.where);
  if (!stated) return;
  const now = stated.map((v) => v * 1000);
  move(item.where, item.kind === "wheel" ? ["side"] : ["top", "side"], item.at, item.name, (p) => {
    if (item.kind === "wheel") return [[item.where, [p.x ?? now[0], p.z ?? now[1]]]];
    return [[item.where, [p.x ?? now[0], item.kind === "pack" && p.y !== undefined ? now[1] : p.y ?? now[1], p.z ?? now[2]]]];
  });
}

export function halfway(a, b, nodes, i, closed) {
  if (!a.out && !b.in) return { x: tidy((a.x + b.x) / 2), y: tidy((a.y + b.y) / 2) };
  const mid = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const [p0, p1, p2, p3] = [[a.x, a.y], a.out ?? [a.x, a.y], b.in ?? [b.x, b.y], [b.x, b.y]];
  const [q0, q1, q2] = [mid(p0, p1), mid(p1, p2), mid(p2, p3)];
  const [r0, r1] = [mid(q0, q1), mid(q1, q2)];
  const c = mid(r0, r1);
  nodes[i] = { ...nodes[i], out: q0 };
  const after = closed ? (i + 1) % nodes.length : i + 1;
  nodes[after] = { ...nodes[after], in: q2 };
  return { x: tidy(c[0]), y: tidy(c[1]), in: r0, out: r1 };
}

export function curveOrCorner(nodes, i, closed) {
  const node = nodes[i];
  if (node.in || node.out) { delete node.in; delete node.out; return; }
  const before = nodes[i - 1] ?? (closed ? nodes[nodes.length - 1] : null);
  const after = nodes[i + 1] ?? (closed ? nodes[0] : null);
  const [p, q] = [before ?? node, after ?? node];
  const run = Math.hypot(q.x - p.x, q.y - p.y) || 1;
  const d = [(q.x - p.x) / run, (q.y - p.y) / run];
  if (before) { const length = Math.hypot(node.x - before.x, node.y - before.y) / 3; node.in = [tidy(node.x - d[0] * length), tidy(node.y - d[1] * length)]; }
  if (after) { const length = Math.hypot(node.x - after.x, node.y - after.y) / 3; node.out = [tidy(node.x + d[0] * length), tidy(node.y + d[1] * length)]; }
}
