// The lines of the three views: surfaces, body, everything inside, balance point, grid.

import { s } from "./dom.js";
import { mm } from "./units.js";
import { state } from "./state.js";
import { VIEWS, begins, key, mirror } from "./places.js";

const line = (points) => points.map(([a, b], i) => `${i ? "L" : "M"}${a.toFixed(2)} ${b.toFixed(2)}`).join("");

export function surfaceMarks(view, surface) {
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

export function bodyMarks(view, body) {
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

export function itemMarks(view, item) {
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

export function balanceMarks(view, scene, unit) {
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

export function strutMarks(view, strut) {
  const flat = VIEWS[view].flat;
  const half = view === "front" ? 2 : strut.chord / 2;
  return [(p) => p, mirror].map((turn) => {
    const [a, b] = [turn(strut.lower), turn(strut.upper)].map(flat);
    const d = view === "front" ? [[a[0] - half, a[1]], [b[0] - half, b[1]], [b[0] + half, b[1]], [a[0] + half, a[1]]]
      : [[a[0] - half, a[1]], [b[0] - half, b[1]], [b[0] + half, b[1]], [a[0] + half, a[1]]];
    return s("path", { d: `${line(d)}Z`, class: "strut" });
  });
}

export function gridLines(box, unit) {
  const step = unit > 1.2 ? 100 : unit > 0.45 ? 50 : 10;
  const fine = [], bold = [];
  for (let x = Math.ceil(box.x / step) * step; x < box.x + box.width; x += step) (Math.round(x / step) % 5 === 0 ? bold : fine).push(`M${x} ${box.y}V${box.y + box.height}`);
  for (let y = Math.ceil(box.y / step) * step; y < box.y + box.height; y += step) (Math.round(y / step) % 5 === 0 ? bold : fine).push(`M${box.x} ${y}H${box.x + box.width}`);
  return s("g", { class: "grid", "aria-hidden": "true" }, s("path", { d: fine.join("") || "M0 0", class: "fine" }), s("path", { d: bold.join("") || "M0 0", class: "bold" }));
}

export function axis(view, box) {
  const centre = view === "front" ? `M0 ${box.y}V${box.y + box.height}` : `M${box.x} 0H${box.x + box.width}`;
  return s("path", { d: centre, class: "axis" });
}
