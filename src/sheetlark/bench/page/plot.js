// Curves and bars on paper: one plot, its axes with round numbers, and the same numbers as a table for who cannot see it.

import { h, put, s } from "./dom.js";
import { axisOf, scaled } from "./units.js";

function roundSteps(low, high, most = 6) {
  const raw = (high - low) / most || 1;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((one) => one >= raw) ?? raw;
  const ticks = [];
  for (let v = Math.ceil(low / step - 1e-9) * step; v <= high + step * 1e-6; v += step) ticks.push(Number(v.toPrecision(10)));
  return ticks;
}

const curveClass = (c) => `curve${c.accent ? " accent" : ""}${c.dash ? " dash" : ""}${c.dots ? " dots" : ""}`;

// curves: [{label, x, y, dash, dots, accent}], marks: [{x, y, label}], x: label, y: label
// kinds: what x and y are, so that they are shown in the page's units.
export function plot({ kinds = [], ...given }) {
  const [kx, ky] = kinds;
  const name = (words, kind) => (kind ? `${words}, ${axisOf(kind)[1]}` : words);
  return sized({
    ...given, x: name(given.x, kx), y: name(given.y, ky),
    curves: given.curves.map((c) => ({ ...c, x: scaled(kx, c.x), y: scaled(ky, c.y) })),
    marks: (given.marks ?? []).map((m) => ({ ...m, x: m.x * axisOf(kx)[0], y: m.y * axisOf(ky)[0] })),
  });
}

// As wide as its place: drawn smaller than it was made, its lettering could not be read.
function sized(given) {
  const figure = h("figure", { class: "plotted" });
  let wide = null;
  const fit = (now) => { if (now !== wide) { wide = now; put(figure, drawn({ ...given, small: !now })); } };
  fit(innerWidth >= 560);
  figure.fit = () => { if (figure.clientWidth) fit(figure.clientWidth > 430); };
  places.observe(figure);
  return figure;
}

const places = new ResizeObserver((seen) => requestAnimationFrame(() => seen.forEach(({ target }) => target.fit())));

function drawn({ title, x, y, curves, marks = [], bands = [], small, height = small ? 250 : 300, width = small ? 340 : 560, zero = false }) {
  const pad = { l: 54, r: 16, t: 14, b: 40 };
  const xs = curves.flatMap((c) => c.x).concat(marks.map((m) => m.x)).filter(Number.isFinite);
  const ys = curves.flatMap((c) => c.y).concat(marks.map((m) => m.y)).filter(Number.isFinite);
  if (!xs.length || !ys.length) return [h("figcaption", {}, title), h("p", { class: "quiet" }, "There is nothing to draw here yet.")];
  let [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  if (zero) { y0 = Math.min(0, y0); y1 = Math.max(0, y1); }
  if (y1 - y0 < 1e-12) { y0 -= 1; y1 += 1; }
  if (x1 - x0 < 1e-12) { x0 -= 1; x1 += 1; }
  const lift = 0.06 * (y1 - y0);
  y1 += lift; if (!(zero && y0 === 0)) y0 -= lift;
  const X = (v) => pad.l + (v - x0) / (x1 - x0) * (width - pad.l - pad.r);
  const Y = (v) => height - pad.b - (v - y0) / (y1 - y0) * (height - pad.t - pad.b);
  const path = (c) => { let d = "", pen = false; c.x.forEach((v, i) => { const ok = Number.isFinite(v) && Number.isFinite(c.y[i]); if (!ok) { pen = false; return; } d += `${pen ? "L" : "M"}${X(v).toFixed(1)} ${Y(c.y[i]).toFixed(1)}`; pen = true; }); return d || "M0 0"; };
  const says = `${title}. ${curves.map((c) => `${c.label}: from ${fmt(c.y[0])} to ${fmt(c.y[c.y.length - 1])}`).join("; ")}.`;
  const svg = s("svg", { viewBox: `0 0 ${width} ${height}`, class: "plot", role: "img", "aria-label": says },
    bands.map((b) => s("rect", { x: X(Math.max(x0, b.from)), y: pad.t, width: Math.max(0, X(Math.min(x1, b.to)) - X(Math.max(x0, b.from))), height: height - pad.t - pad.b, class: "band" })),
    roundSteps(x0, x1).map((v) => [s("path", { d: `M${X(v)} ${pad.t}V${height - pad.b}`, class: "rule" }), s("text", { x: X(v), y: height - pad.b + 16, "text-anchor": "middle" }, fmt(v))]),
    roundSteps(y0, y1, 5).map((v) => [s("path", { d: `M${pad.l} ${Y(v)}H${width - pad.r}`, class: "rule" }), s("text", { x: pad.l - 7, y: Y(v) + 4, "text-anchor": "end" }, fmt(v))]),
    y0 < 0 && y1 > 0 ? s("path", { d: `M${pad.l} ${Y(0)}H${width - pad.r}`, class: "zero" }) : null,
    x0 < 0 && x1 > 0 ? s("path", { d: `M${X(0)} ${pad.t}V${height - pad.b}`, class: "zero" }) : null,
    curves.map((c) => s("path", { d: path(c), class: curveClass(c) })),
    marks.map((m) => [s("circle", { cx: X(m.x), cy: Y(m.y), r: m.r ?? 4, class: `dot${m.hollow ? " hollow" : ""}` }, m.title ? s("title", {}, m.title) : null), m.label ? s("text", { ...labelAt(X(m.x), Y(m.y), m.r ?? 4, width), class: "callout" }, m.label) : null]),
    s("text", { x: (pad.l + width - pad.r) / 2, y: height - 6, "text-anchor": "middle", class: "axis-name" }, x),
    s("text", { x: 13, y: (height - pad.b + pad.t) / 2, "text-anchor": "middle", transform: `rotate(-90 13 ${(height - pad.b + pad.t) / 2})`, class: "axis-name" }, y));
  const named = curves.filter((c) => c.label);
  return [h("figcaption", {}, title), svg,
    named.length > 1 ? h("p", { class: "key" }, named.map((c) => h("span", {}, s("svg", { viewBox: "0 0 26 8", width: "26", height: "8", "aria-hidden": "true" }, s("path", { d: "M0 4H26", class: curveClass(c) })), c.label))) : null];
}

// Over its mark, where two curves that cross leave room; at the sides, beside it.
function labelAt(x, y, r, width) {
  if (x > width - 60) return { x: x - r - 4, y: y - 7, "text-anchor": "end" };
  if (x < 110) return { x: x + r + 4, y: y - 7, "text-anchor": "start" };
  return { x, y: y - r - 10, "text-anchor": "middle" };
}

export function fmt(v) {
  if (!Number.isFinite(v)) return "–";
  const a = Math.abs(v);
  const text = a >= 100 ? v.toFixed(0) : a >= 10 ? String(Number(v.toFixed(1))) : a >= 1 ? String(Number(v.toFixed(2))) : String(Number(v.toFixed(3)));
  return text.replace("-", "−");
}

// What a column holds decides how it stands: numbers end on one line, words begin on one.
const NUMERIC = /^[−–+±≈]?\s?\d[\d.,\s]*\S{0,3}( \S{1,6})?$|^[–-]?$/;

// Where its place is too narrow a table of many columns stands row by row, each value with its heading before it.
// `bare`: its caption and heads are there for a screen reader alone.
export function table(caption, heads, rows, { bare = false } = {}) {
  const numeric = heads.map((_head, i) => i > 0 && rows.every((row) => typeof row[i] === "string" && NUMERIC.test(row[i])));
  const wordy = heads.map((_head, i) => i > 0 && rows.some((row) => typeof row[i] === "string" && row[i].length > 24));
  const many = heads.length > 4 || (heads.length > 2 && wordy.includes(true));
  // Letters that a row needs side by side; of words, as many as stand on a line without a break that hurts.
  const letters = heads.reduce((sum, head, i) => sum + 2 + Math.min(24, Math.max(head.length, ...rows.map((row) => (typeof row[i] === "string" ? row[i].length : 4)))), 0);
  const cell = (row) => (value, i) => h(i === 0 ? "th" : "td", {
    role: i === 0 ? "rowheader" : "cell", scope: i === 0 ? "row" : undefined, class: numeric[i] ? "num" : wordy[i] ? "words" : undefined,
    data: i > 0 && row[i] && typeof row[i] === "string" ? { head: heads[i] } : {} }, value);
  const made = h("table", { role: "table", class: [wordy.includes(true) && "wordy", many && "many", many && letters > 85 && "broad", bare && "bare"].filter(Boolean).join(" ") || undefined },
    h("caption", {}, caption),
    h("thead", { role: "rowgroup" }, h("tr", { role: "row" }, heads.map((t, i) => h("th", { role: "columnheader", scope: "col", class: numeric[i] ? "num" : undefined }, t)))),
    h("tbody", { role: "rowgroup" }, rows.map((row) => h("tr", { role: "row" }, row.map(cell(row))))));
  const scroll = h("div", { class: "scroll", role: "region", "aria-label": caption }, made);
  widths.observe(scroll);
  return scroll;
}

// Only a table that runs over its place needs the keyboard to move it.
const widths = new ResizeObserver((seen) => requestAnimationFrame(() => {
  for (const { target } of seen) { if (target.scrollWidth > target.clientWidth + 1) target.tabIndex = 0; else target.removeAttribute("tabindex"); }
}));
