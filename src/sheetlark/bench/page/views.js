// The three linked views, drawn to one scale, with handles to drag. Millimetres throughout.
//
// top: x to the right, starboard up.  side: x to the right, z up.  front: as seen from ahead, starboard left.

import { h, s, put, held, say } from "./dom.js";
import { mm, isImperial, told } from "./units.js";
import { state, watch, preview, commit, back, select, changed } from "./state.js";

const VIEWS = {
  top: { title: "Top", flat: ([x, y]) => [x, -y], lift: (a, b) => ({ x: a, y: -b }) },
  side: { title: "Side", flat: ([x, , z]) => [x, -z], lift: (a, b) => ({ x: a, z: -b }) },
  front: { title: "Front", flat: ([, y, z]) => [-y, -z], lift: (a, b) => ({ y: -a, z: -b }) },
};
const MARGIN = 26;
let snapStep = Number(localStorage.getItem("snap") ?? "1");
export const snapSize = () => snapStep;
export function setSnap(step) { snapStep = step; localStorage.setItem("snap", String(step)); }

const mirror = ([x, y, z]) => [x, -y, z];
const key = (where) => where.join("/");
const begins = (where, start) => start && start.every((part, i) => where[i] === part);
const tidy = (value) => Math.round(value * 1000) / 1000;

function snapped(value, event) {
  if (event?.altKey || snapStep === 0) return tidy(value);
  const step = isImperial() ? snapStep * 1.5875 : snapStep; // sixteenths of an inch
  return tidy(Math.round(value / step) * step);
}

// Room that the drawing takes -------------------------------------------------------------------------------

function reach(scene) {
  const box = { x: [Infinity, -Infinity], y: 0, z: [Infinity, -Infinity] };
  const take = ([x, y, z]) => {
    box.x = [Math.min(box.x[0], x), Math.max(box.x[1], x)];
    box.z = [Math.min(box.z[0], z), Math.max(box.z[1], z)];
    box.y = Math.max(box.y, Math.abs(y));
  };
  for (const surface of scene.surfaces) surface.line.forEach(take);
  if (scene.body) scene.body.profile.forEach(([x, z]) => take([x, 20, z]));
  for (const item of scene.items) {
    const half = item.disc ? item.disc / 2 : 0;
    take([item.at[0] - item.size[0] / 2, item.at[1], item.at[2] - Math.max(half, item.size[2] / 2)]);
    take([item.at[0] + item.size[0] / 2, item.at[1], item.at[2] + Math.max(half, item.size[2] / 2)]);
  }
  return box;
}

function frame(view, box) {
  if (view === "top") return [box.x[0], -box.y, box.x[1] - box.x[0], 2 * box.y];
  if (view === "side") return [box.x[0], -box.z[1], box.x[1] - box.x[0], box.z[1] - box.z[0]];
  return [-box.y, -box.z[1], 2 * box.y, box.z[1] - box.z[0]];
}

// Handles --------------------------------------------------------------------------------------------------

// A handle: where it is in space, in which views it can be had, what a new place changes, how it is said.
function handlesOf(scene, values) {
  const chosen = state.selected;
  const handles = [];
  const move = (where, views, at, says, make) => handles.push({ key: `${key(where)}:${says}`, views, at, says, make, where });
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
    move(former.where, ["side"], [former.x, 0, (former.bottom + former.top) / 2], `former at ${Math.round(former.x)} mm`,
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
      });
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

// Drawing --------------------------------------------------------------------------------------------------

const line = (points) => points.map(([a, b], i) => `${i ? "L" : "M"}${a.toFixed(2)} ${b.toFixed(2)}`).join("");

function surfaceMarks(view, surface) {
  const flat = VIEWS[view].flat;
  const chosen = begins(state.selected ?? [], surface.where) || key(state.selected ?? []) === key(surface.where);
  const marks = [];
  for (const turn of surface.mirrored ? [(p) => p, mirror] : [(p) => p]) {
    marks.push(s("path", { d: `${line(surface.line.map(turn).map(flat))}Z`, class: `skin ${surface.role}${chosen ? " chosen" : ""}`, data: { where: key(surface.where) } }));
    if (surface.hinge) marks.push(s("path", { d: line(surface.hinge.map(turn).map(flat)), class: "hinge" }));
    for (const spar of surface.spars) marks.push(s("path", { d: line(spar.map(turn).map(flat)), class: "spar" }));
  }
  return marks;
}

function bodyMarks(view, body) {
  const chosen = state.selected?.[0] === "body";
  const cls = `skin body${chosen ? " chosen" : ""}`;
  const data = { where: "body" };
  const marks = [];
  if (view === "side") {
    marks.push(s("path", { d: `${line(body.profile.map(([x, z]) => [x, -z]))}Z`, class: cls, data }));
    for (const former of body.formers) marks.push(s("path", { d: line([[former.x, -former.top], [former.x, -former.bottom]]), class: "former", data: { where: key(former.where) } }));
    for (const deck of body.decks) {
      const crown = Math.max(...deck.foot) + deck.height;
      marks.push(s("path", { d: line([[deck.start, -deck.foot[0]], [deck.start, -crown], [deck.end, -deck.foot[1]]]), class: "deck" }));
    }
  } else if (view === "top") {
    const [nose, tail] = body.length;
    const at = (x) => widthAt(body.width, x);
    const stations = [nose, ...body.width.map(([x]) => x).filter((x) => x > nose && x < tail), tail];
    const outline = [...stations.map((x) => [x, -at(x) / 2]), ...stations.slice().reverse().map((x) => [x, at(x) / 2])];
    marks.push(s("path", { d: `${line(outline)}Z`, class: cls, data }));
    for (const former of body.formers) marks.push(s("path", { d: line([[former.x, -former.width / 2], [former.x, former.width / 2]]), class: "former" }));
  } else {
    const rows = body.formers.length ? body.formers : [];
    const low = Math.min(...body.profile.map((p) => p[1]));
    const high = Math.max(...body.profile.map((p) => p[1]));
    const wide = Math.max(...body.width.map((p) => p[1]));
    marks.push(s("rect", { x: -wide / 2, y: -high, width: wide, height: high - low, class: cls, data }));
    for (const f of rows) marks.push(s("rect", { x: -f.width / 2, y: -f.top, width: f.width, height: f.top - f.bottom, class: "former box" }));
  }
  return marks;
}

function widthAt(rows, x) {
  if (x <= rows[0][0]) return rows[0][1];
  for (let i = 1; i < rows.length; i += 1) {
    if (x <= rows[i][0]) {
      const t = (x - rows[i - 1][0]) / (rows[i][0] - rows[i - 1][0]);
      return rows[i - 1][1] + t * (rows[i][1] - rows[i - 1][1]);
    }
  }
  return rows[rows.length - 1][1];
}

function itemMarks(view, item) {
  const flat = VIEWS[view].flat;
  const size = { top: [item.size[0], item.size[1]], side: [item.size[0], item.size[2]], front: [item.size[1], item.size[2]] }[view];
  const marks = [];
  const chosen = key(state.selected ?? []) === key(item.where);
  for (const at of item.pair ? [item.at, mirror(item.at)] : [item.at]) {
    const shift = item.kind === "motor" ? (item.pusher ? item.size[0] / 2 : -item.size[0] / 2) : 0;
    const [a, b] = flat([at[0] + shift, at[1], at[2]]);
    const data = { where: key(item.where) };
    if (item.disc) {
      const face = at[0] + (item.pusher ? item.size[0] : -item.size[0]);
      const [c, d] = flat([face, at[1], at[2]]);
      const r = item.disc / 2;
      if (view === "front") marks.push(s("circle", { cx: c, cy: d, r, class: "disc" }));
      else marks.push(s("path", { d: line([[c, d - r], [c, d + r]]), class: "disc" }));
    }
    if (item.kind === "wheel" && view !== "side" ) {
      marks.push(s("rect", { x: a - size[0] / 2, y: b - size[1] / 2, width: size[0], height: size[1], class: `item wheel${chosen ? " chosen" : ""}`, data }));
    } else if (item.kind === "wheel") {
      marks.push(s("circle", { cx: a, cy: b, r: size[0] / 2, class: `item wheel${chosen ? " chosen" : ""}`, data }));
    } else {
      marks.push(s("rect", { x: a - size[0] / 2, y: b - size[1] / 2, width: size[0], height: size[1], class: `item ${item.kind}${chosen ? " chosen" : ""}`, data },
        s("title", {}, item.name)));
    }
    if (item.kind === "wheel" && view !== "top") {
      const [p, q] = flat([at[0], at[1], item.mount_z]);
      const inner = view === "front" ? p * 0.35 : p;
      marks.push(s("path", { d: line([[a, b], [inner, q]]), class: "wire" }));
    }
  }
  return marks;
}

function balanceMarks(view, scene, unit) {
  const marks = [];
  const { balance, neutral } = state;
  if (!balance || balance.x === undefined) return marks;
  const [a, b] = VIEWS[view].flat([balance.x, balance.y ?? 0, balance.z ?? 0]);
  const r = 7 * unit;
  if (view === "top" || view === "side") {
    const low = balance.forward_limit_mm, high = balance.aft_limit_mm;
    if (Number.isFinite(low) && Number.isFinite(high) && high > low) {
      const y = view === "top" ? 0 : b;
      marks.push(s("path", { d: `M${low} ${y - 5 * unit}V${y + 5 * unit}M${low} ${y}H${high}M${high} ${y - 5 * unit}V${y + 5 * unit}`, class: "allowed" },
        s("title", {}, `The balance point may lie from ${mm(low)} to ${mm(high)}`)));
    }
    if (Number.isFinite(neutral)) {
      const y = view === "top" ? 0 : b;
      marks.push(s("path", { d: `M${neutral} ${y - 8 * unit}l${6 * unit} ${14 * unit}h${-12 * unit}Z`, class: "neutral" }, s("title", {}, `Neutral point, ${mm(neutral)}`)));
    }
  }
  marks.push(s("g", { class: `balance${state.stale ? " stale" : ""}`, transform: `translate(${a} ${b})` },
    s("circle", { r, class: "rim" }), s("path", { d: `M0 0V${-r}A${r} ${r} 0 0 1 ${r} 0ZM0 0V${r}A${r} ${r} 0 0 1 ${-r} 0Z` }),
    s("title", {}, `Balance point, ${mm(balance.x)} behind the nose datum`)));
  return marks;
}

// The drawing board ----------------------------------------------------------------------------------------

export function drawingBoard() {
  let only = localStorage.getItem("view") ?? "all";
  let picked = null;
  let drag = null;
  let keys = null;
  let wide = 0; // measured when the room changes size; asking on every move would make the browser lay out anew
  const balances = {};
  const svgs = {};
  const rooms = {};
  const figures = {};
  for (const view of Object.keys(VIEWS)) {
    svgs[view] = s("svg", { class: "view", role: "group", "aria-label": `${VIEWS[view].title} view`, data: { view } });
    figures[view] = h("figure", { class: `sheet ${view}` }, svgs[view], h("figcaption", {}, VIEWS[view].title));
  }
  const third = h("figure", { class: "sheet third" });
  const grid = h("div", { class: "views" }, figures.top, third, figures.side, figures.front);
  const exact = h("div", { class: "exact", role: "group", "aria-label": "Exact place" });
  const refusal = h("p", { class: "refusal", role: "alert" });
  let fillSnap = () => {};
  const bar = toolbar();
  const board = h("section", { class: "board", "aria-label": "Drawing board" }, bar, grid, refusal, exact);

  function toolbar() {
    const views = h("div", { class: "choice", role: "group", "aria-label": "Which view" });
    for (const [id, title] of [["all", "All"], ["top", "Top"], ["side", "Side"], ["front", "Front"], ["third", "3-D"]]) {
      views.append(h("button", { type: "button", "aria-pressed": String(only === id), data: { id }, onclick: () => {
        only = id;
        localStorage.setItem("view", id);
        for (const b of views.children) b.setAttribute("aria-pressed", String(b.dataset.id === id));
        draw();
      } }, title));
    }
    const snap = h("select", { "aria-label": "Snap", onchange: () => setSnap(Number(snap.value)) });
    const steps = [["0", "no snap", "no snap"], ["0.5", "snap 0.5 mm", "snap 1/32 in"], ["1", "snap 1 mm", "snap 1/16 in"], ["4", "snap 4 mm", "snap 1/4 in"], ["8", "snap 8 mm", "snap 1/2 in"]];
    fillSnap = () => put(snap, steps.map(([value, metric, inches]) => h("option", { value, selected: Number(value) === snapStep }, isImperial() ? inches : metric)));
    fillSnap();
    return h("div", { class: "tools" }, views, snap, h("span", { class: "reading quiet" }));
  }

  function sizes(box) {
    const [L, S, Z] = [box.x[1] - box.x[0] + 2 * MARGIN, 2 * box.y + 2 * MARGIN, box.z[1] - box.z[0] + 2 * MARGIN];
    if (!wide) wide = Math.max(240, grid.clientWidth || 640);
    const width = wide;
    const narrow = width < 560;
    let scale;
    if (only === "third") scale = width / (L + S);
    else if (only !== "all") {
      const [w, t] = { top: [L, S], side: [L, Z], front: [S, Z] }[only];
      scale = Math.min(width / w, Math.max(260, innerHeight - 330) / t);
    } else if (narrow) scale = width / Math.max(L, S);
    else scale = Math.min((width - 10) / (L + S), Math.max(380, innerHeight - 260) / (S + Z));
    return { L, S, Z, scale, narrow, width };
  }

  function draw() {
    const { scene, values } = state;
    if (!scene || !values) return;
    const box = reach(scene);
    const size = sizes(box);
    grid.dataset.only = only;
    grid.classList.toggle("narrow", size.narrow);
    const handles = handlesOf(scene, values);
    const had = drag ? null : document.activeElement?.dataset?.handle;
    const hadView = document.activeElement?.closest?.("svg")?.dataset?.view;
    let refocus = null;
    for (const view of Object.keys(VIEWS)) {
      const shownHere = only === "all" || only === view;
      figures[view].hidden = !shownHere;
      if (!shownHere) continue;
      const [x, y, w, t] = frame(view, box);
      const svg = svgs[view];
      const room = [x - MARGIN, y - MARGIN, w + 2 * MARGIN, t + 2 * MARGIN];
      // While a finger drags, the paper stays still under it.
      if (!drag || !rooms[view]) {
        rooms[view] = { x: room[0], y: room[1], width: room[2], height: room[3], scale: size.scale };
        svg.setAttribute("viewBox", room.join(" "));
        svg.style.width = `${room[2] * size.scale}px`;
        svg.style.height = `${room[3] * size.scale}px`;
      }
      const held = rooms[view];
      const unit = 1 / held.scale;
      held.unit = unit;
      balances[view] = s("g", {});
      put(balances[view], balanceMarks(view, scene, unit));
      put(svg, gridLines(held, unit),
        axis(view, held),
        ...(view === "top" ? [...scene.surfaces.slice().sort((p, q) => p.at[2] - q.at[2]).flatMap((surface) => surfaceMarks(view, surface)), ...(scene.body ? bodyMarks(view, scene.body) : [])]
          : [...(scene.body ? bodyMarks(view, scene.body) : []), ...scene.surfaces.flatMap((surface) => surfaceMarks(view, surface))]),
        ...scene.struts.flatMap((strut) => strutMarks(view, strut)),
        ...scene.items.flatMap((item) => itemMarks(view, item)),
        balances[view],
        ...handles.filter((each) => each.views.includes(view)).flatMap((each) => {
          const mark = handleMark(view, each, unit);
          if (each.key === had && view === hadView) refocus = mark;
          return [mark];
        }));
    }
    if (drag) { reading(); return; }
    third.hidden = !(only === "all" || only === "third");
    if (only === "third") { third.style.width = `${size.width}px`; third.style.height = `${Math.max(320, innerHeight - 300)}px`; }
    else if (size.narrow) { third.style.width = `${size.width}px`; third.style.height = `${size.width * 0.72}px`; }
    else { third.style.width = `${Math.max(160, size.width - 10 - size.L * size.scale)}px`; third.style.height = `${size.S * size.scale}px`; }
    if (!size.narrow && only === "all") grid.style.gridTemplateColumns = `${size.L * size.scale}px 1fr`;
    else grid.style.gridTemplateColumns = "1fr";
    if (refocus && document.activeElement !== refocus) refocus.focus({ preventScroll: true });
    reading();
    drawExact(handles);
    changed("drawn");
  }

  function reading() {
    if (!drag) bar.querySelector(".reading").textContent = state.stale ? "working out …" : "";
  }

  function handleMark(view, each, unit) {
    const [a, b] = VIEWS[view].flat(each.at);
    const curve = each.says.includes("handle");
    const pack = each.where[1] === "pack_at";
    const words = `${each.says}: ${placeWords(each.at, view)}`;
    const mark = s("g", {
      class: `handle${curve ? " curve" : ""}${pack ? " pack" : ""}${picked === each.key ? " picked" : ""}`, transform: `translate(${a} ${b})`, tabindex: "0",
      role: "button", "aria-roledescription": "handle", "aria-label": `${words}. Arrow keys move it.`, data: { handle: each.key },
    }, s("circle", { r: 14 * unit, class: "touch" }),
    curve ? s("circle", { r: 3.6 * unit, class: "grip" }) : s("rect", { x: -4.5 * unit, y: -4.5 * unit, width: 9 * unit, height: 9 * unit, class: "grip" }));
    mark.addEventListener("pointerdown", (event) => begin(event, view, each));
    mark.addEventListener("keydown", (event) => arrow(event, view, each));
    mark.addEventListener("focus", () => { if (picked !== each.key) { picked = each.key; drawExact(handlesOf(state.scene, state.values)); } });
    // Redrawing takes the handle away and gives it back; only a person's leaving it ends the move.
    mark.addEventListener("blur", () => setTimeout(() => { if (keys && document.activeElement?.dataset?.handle !== keys.key) finishKeys(); }, 30));
    return mark;
  }

  const placeWords = (at, view) => (view === "top" ? `x ${mm(at[0])}, y ${mm(at[1])}` : view === "side" ? `x ${mm(at[0])}, z ${mm(at[2])}` : `y ${mm(at[1])}, z ${mm(at[2])}`);

  // Dragging
  function pointAt(svg, event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  function begin(event, view, each) {
    if (event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    const svg = svgs[view];
    const start = pointAt(svg, event);
    const from = VIEWS[view].flat(each.at);
    picked = each.key;
    drag = { view, each, start, from, svg, scale: rooms[view].scale, changes: null, moved: false };
    event.target.closest(".handle").focus({ preventScroll: true });
  }

  function moved(event) {
    if (!drag) return;
    const [a, b] = pointAt(drag.svg, event);
    const [da, db] = [a - drag.start[0], b - drag.start[1]];
    if (!drag.moved && Math.hypot(da, db) * drag.scale < 3) return;
    drag.moved = true;
    const p = VIEWS[drag.view].lift(drag.from[0] + da, drag.from[1] + db);
    for (const axisName of Object.keys(p)) p[axisName] = snapped(p[axisName], event);
    drag.changes = drag.each.make(p, event);
    preview(drag.changes);
    const bits = Object.entries(p).map(([name, value]) => `${name} ${mm(value)}`);
    bar.querySelector(".reading").textContent = bits.join("   ");
  }

  function ended(event) {
    if (!drag) return;
    const { changes, moved: went, each, view } = drag;
    drag = null;
    if (went && state.refusal) { const words = state.refusal; back(); state.refusal = words; changed("refusal"); say(words); }
    else if (went && changes && event.type === "pointerup") commit(changes, `move ${each.says.replace(/:.*/, "")}`);
    else if (went) back();
    draw();
    document.querySelector(`svg[data-view="${view}"] [data-handle="${CSS.escape(each.key)}"]`)?.focus({ preventScroll: true });
  }

  // Arrow keys
  function arrow(event, view, each) {
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "Escape") { keys = null; back(); return; }
    if (event.key === "Enter") { exact.querySelector("input")?.focus(); event.preventDefault(); return; }
    if (!by) return;
    event.preventDefault();
    const step = (event.shiftKey ? 10 : event.altKey ? 0.1 : 1) * (isImperial() ? 0.79375 : 1);
    if (!keys || keys.key !== each.key) { finishKeys(); keys = { key: each.key, each, view, at: VIEWS[view].flat(each.at) }; }
    keys.at = [keys.at[0] + by[0] * step, keys.at[1] + by[1] * step];
    const p = VIEWS[view].lift(...keys.at);
    for (const name of Object.keys(p)) p[name] = tidy(p[name]);
    keys.changes = keys.each.make(p, event);
    preview(keys.changes);
    clearTimeout(keys.timer);
    keys.timer = setTimeout(finishKeys, 700);
    say(Object.entries(p).map(([name, value]) => `${name} ${mm(value)}`).join(", "));
  }

  function finishKeys() {
    if (!keys?.changes) { keys = null; return; }
    const { changes, each, timer } = keys;
    clearTimeout(timer);
    keys = null;
    commit(changes, `move ${each.says.replace(/:.*/, "")}`);
  }

  // Exact entry
  let exactKey = null;
  function drawExact(handles) {
    const each = handles.find((one) => one.key === picked);
    if (!each) { exactKey = null; put(exact, chosenActions()); return; }
    if (exact.contains(document.activeElement) && document.activeElement.tagName === "INPUT" && exactKey === each.key) return;
    exactKey = each.key;
    const view = each.views[0];
    const axes = view === "top" ? [0, 1] : view === "side" ? [0, 2] : [1, 2];
    const names = ["x", "y", "z"];
    const inputs = axes.map((i) => h("input", {
      type: "text", inputmode: "decimal", size: "7", "aria-label": `${each.says}, ${names[i]}`,
      value: isImperial() ? (each.at[i] / 25.4).toFixed(3) : String(Math.round(each.at[i] * 100) / 100),
      onchange: () => {
        const p = {};
        axes.forEach((j, n) => { p[names[j]] = Number(inputs[n].value.replace(",", ".").replace("−", "-")) * (isImperial() ? 25.4 : 1); });
        if (Object.values(p).some((value) => !Number.isFinite(value))) { state.refusal = "Write a plain number here, such as 120."; changed("refusal"); return; }
        commit(each.make(p, { shiftKey: true }), `place ${each.says.replace(/:.*/, "")}`);
      },
    }));
    put(exact, h("span", {}, each.says.replace(/:.*/, "")), ...axes.map((i, n) => h("label", {}, names[i], inputs[n], h("span", { class: "unit" }, isImperial() ? "in" : "mm"))), nodeTools(each), chosenActions());
  }

  function nodeTools(each) {
    const match = each.says.match(/, node (\d+)$/);
    if (!match) return null;
    const i = Number(match[1]) - 1;
    const body = each.where[0] === "body";
    const source = body ? state.scene.body.nodes : state.scene.surfaces.find((one) => key(one.where) === key(each.where)).nodes;
    const where = body ? ["body", "profile"] : [...each.where, "outline"];
    const write = (nodes, label) => commit([[where, pathOf(nodes, body)]], label);
    const copy = () => source.map((n) => ({ ...n }));
    const after = source[i + 1] ?? (body ? source[0] : null);
    return h("span", { class: "buttons" },
      after && h("button", { type: "button", onclick: () => { const n = copy(); n.splice(i + 1, 0, halfway(source[i], after, n, i, body)); write(n, "add a node"); } }, "Add a node after"),
      (body || (i > 0 && i < source.length - 1)) && source.length > 3 && h("button", { type: "button", onclick: () => { const n = copy(); n.splice(i, 1); picked = null; write(n, "remove a node"); } }, "Remove node"),
      h("button", { type: "button", onclick: () => { const n = copy(); curveOrCorner(n, i, body); write(n, source[i].in || source[i].out ? "make a corner" : "make a curve"); } }, source[i].in || source[i].out ? "Make a corner" : "Make a curve"));
  }

  function chosenActions() {
    const chosen = state.selected;
    const surface = chosen && state.scene?.surfaces.find((one) => begins(chosen, one.where));
    const stated = surface && held(state.values, surface.where);
    if (!stated || stated.outline) return null;
    const height = surface.role === "fin" ? "height" : "span";
    const gone = [height, "root_chord", "tip_chord", "sweep", "tip_roundness"];
    const written = gone.filter((name) => !(name === "tip_chord" && stated.tip_chord === null));
    return h("button", { type: "button", title: "Its outline then has nodes and handles to drag", onclick: () => commit(
      [...written.map((name) => [[...surface.where, name], null]), [[...surface.where, "outline"], pathOf(surface.nodes, false)]],
      `make ${surface.name} a free outline`) }, `Free the outline of ${surface.name}`);
  }

  board.addEventListener("pointerdown", (event) => {
    const mark = event.target.closest("[data-where]");
    if (!mark || event.target.closest(".handle")) return;
    const where = mark.dataset.where.split("/").map((part) => (/^\d+$/.test(part) ? Number(part) : part));
    select(where);
    if (where.length > 1 && mark.classList.contains("item")) {
      const view = mark.closest("svg").dataset.view;
      const each = handlesOf(state.scene, state.values).find((one) => key(one.where) === key(where) && one.views.includes(view));
      if (each) { draw(); const grip = svgs[view].querySelector(`[data-handle="${CSS.escape(each.key)}"]`); if (grip) begin({ button: 0, preventDefault() {}, stopPropagation() {}, clientX: event.clientX, clientY: event.clientY, target: grip }, view, each); }
    }
  });
  addEventListener("pointermove", moved);
  addEventListener("pointerup", ended);
  addEventListener("pointercancel", ended);
  addEventListener("keydown", (event) => { if (event.key === "Escape" && drag) { drag = null; back(); } });

  const offs = [
    watch("scene", draw), watch("selected", () => { picked = null; draw(); }), watch("units", () => { fillSnap(); draw(); }),
    watch("figures", () => {
      for (const view of Object.keys(balances)) if (state.scene) put(balances[view], balanceMarks(view, state.scene, rooms[view].unit));
      if (!drag) reading();
    }),
    watch("refusal", () => { refusal.textContent = state.refusal ?? ""; }),
  ];
  const seen = new ResizeObserver(() => { const now = Math.max(240, grid.clientWidth || 640); if (now !== wide) { wide = now; if (!drag) draw(); } });
  seen.observe(grid);
  return {
    node: board, third, draw,
    close() { finishKeys(); offs.forEach((off) => off()); seen.disconnect(); removeEventListener("pointermove", moved); removeEventListener("pointerup", ended); removeEventListener("pointercancel", ended); },
  };
}

function strutMarks(view, strut) {
  const flat = VIEWS[view].flat;
  const half = view === "front" ? 2 : strut.chord / 2;
  return [(p) => p, mirror].map((turn) => {
    const [a, b] = [turn(strut.lower), turn(strut.upper)].map(flat);
    const d = view === "front" ? [[a[0] - half, a[1]], [b[0] - half, b[1]], [b[0] + half, b[1]], [a[0] + half, a[1]]]
      : [[a[0] - half, a[1]], [b[0] - half, b[1]], [b[0] + half, b[1]], [a[0] + half, a[1]]];
    return s("path", { d: `${line(d)}Z`, class: "strut" });
  });
}

function halfway(a, b, nodes, i, closed) {
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

function curveOrCorner(nodes, i, closed) {
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

function gridLines(box, unit) {
  const step = unit > 1.2 ? 100 : unit > 0.45 ? 50 : 10;
  const fine = [], bold = [];
  for (let x = Math.ceil(box.x / step) * step; x < box.x + box.width; x += step) (Math.round(x / step) % 5 === 0 ? bold : fine).push(`M${x} ${box.y}V${box.y + box.height}`);
  for (let y = Math.ceil(box.y / step) * step; y < box.y + box.height; y += step) (Math.round(y / step) % 5 === 0 ? bold : fine).push(`M${box.x} ${y}H${box.x + box.width}`);
  return s("g", { class: "grid", "aria-hidden": "true" }, s("path", { d: fine.join("") || "M0 0", class: "fine" }), s("path", { d: bold.join("") || "M0 0", class: "bold" }));
}

function axis(view, box) {
  const centre = view === "front" ? `M0 ${box.y}V${box.y + box.height}` : `M${box.x} 0H${box.x + box.width}`;
  return s("path", { d: centre, class: "axis" });
}

export const figureWords = told;
