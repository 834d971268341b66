// Beside everything, always: the figures, what the last edit moved, and the findings with their remedies.

import { h, s, put, say } from "./dom.js";
import { figure, isImperial, spoken, told } from "./units.js";
import { state, watch, changed, plainly } from "./state.js";

const MARKS = { fault: ["✕", "Fault"], caution: ["!", "Caution"], note: ["i", "Note"] };

const place = (where) => where.map((p) => (typeof p === "number" ? String(p + 1) : p.replaceAll("_", " "))).join(" ");
// What is wrong with the file, a line each.
export const faultLines = () => state.faults.map((f) => `${f.line ? `Line ${f.line}: ` : ""}${f.where.length ? `${place(f.where)}: ` : ""}${f.says}`);

export function panel(node) {
  const openReasons = new Set();
  const figuresNode = h("dl", { class: "figures" });
  const findingsNode = h("ul", { class: "findings" });
  const findingsHead = h("h2", {}, "Findings");
  const state1 = h("p", { class: "state quiet", role: "status" });
  const head = h("button", { type: "button", class: "panel-head", "aria-expanded": "true", onclick: () => {
    const shut = node.classList.toggle("shut");
    head.setAttribute("aria-expanded", String(!shut));
  } });
  const undoLast = h("div", { class: "last" });
  const inside = h("div", { class: "panel-inside" },
    h("h2", {}, "What it is now"), state1, figuresNode, undoLast, findingsHead, findingsNode,
    h("p", { class: "quiet small" }, "Computed figures rest on the stock’s typical ones until you weigh and measure your own."));
  put(node, head, inside);
  if (matchMedia("(max-width: 760px)").matches) { node.classList.add("shut"); head.setAttribute("aria-expanded", "false"); }

  function draw() {
    const before = new Map((state.before ?? []).map((f) => [f.id, f.value]));
    standing();
    node.classList.toggle("stale", state.stale);
    const had = document.activeElement?.dataset?.reason;
    put(figuresNode, found().map((f) => one(f, before.get(f.id))));
    if (had) figuresNode.querySelector(`[data-reason="${had}"]`)?.focus({ preventScroll: true });
    const mass = found().find((f) => f.id === "mass"), margin = found().find((f) => f.id === "margin");
    const count = state.findings.length;
    put(head, h("span", {}, mass ? told("mass", mass.value) : "–"), h("span", {}, margin ? `margin ${told("percent", margin.value)}` : ""), h("span", {}, count === 1 ? "1 finding" : `${count} findings`), h("span", { class: "arrow", "aria-hidden": "true" }, "▾"));
    findings();
    last();
  }

  function standing() {
    state1.textContent = state.faults?.length ? (found().length ? "The design cannot be worked out as it stands; the figures are those from before." : "The design cannot be worked out as it stands.")
      : state.stale ? "Working it out …" : state.layout ? `${state.layout}, worked out afresh` : "";
  }
  const found = () => state.figures ?? [];

  function one(f, was) {
    const [number, unit] = figure(f.kind, f.value);
    const delta = was === undefined || Math.abs(f.value - was) < 1e-9 ? null : f.value - was;
    const shown = delta === null ? null : figure(f.kind, Math.abs(delta))[0];
    const open = openReasons.has(f.id);
    return h("div", { class: "figure" },
      h("dt", {}, h("button", { type: "button", class: "why", "aria-expanded": String(open), data: { reason: f.id }, onclick: () => { if (open) openReasons.delete(f.id); else openReasons.add(f.id); draw(); } }, f.label)),
      h("dd", {}, shown && Number(shown) !== 0 ? h("span", { class: "delta", title: `${delta > 0 ? "up" : "down"} by this much since the last edit` }, `${delta > 0 ? "▲" : "▼"} ${shown} `) : null,
        h("span", { class: "value" }, number, unit ? h("span", { class: "unit" }, ` ${unit}`) : null),
        f.spread ? h("span", { class: "spread" }, ` ± ${figure(f.kind, f.spread)[0]}`) : null),
      f.low !== null && f.high !== null ? range(f) : null,
      open ? h("dd", { class: "reason" }, spoken(f.because), h("span", { class: "source" }, ` ${f.source}`)) : null);
  }

  function range(f) {
    const [low, high] = [f.low, f.high];
    if (high <= low) return h("dd", { class: "range" }, h("span", { class: "small" }, `No place serves: ahead of ${told(f.kind, low)} the elevator is too weak, behind ${told(f.kind, high)} it is not stable enough.`));
    const spanned = high - low || 1;
    const from = Math.min(low - 0.35 * spanned, f.value - 0.1 * spanned), to = Math.max(high + 0.35 * spanned, f.value + 0.1 * spanned);
    const at = (v) => ((v - from) / (to - from)) * 200;
    const inside = f.value >= low && f.value <= high;
    return h("dd", { class: "range" }, s("svg", { viewBox: "0 0 200 22", role: "img", "aria-label": `${told(f.kind, f.value)}; allowed ${told(f.kind, low)} to ${told(f.kind, high)}` },
      s("path", { d: "M0 11H200", class: "rule" }), s("rect", { x: at(low), y: 6, width: at(high) - at(low), height: 10, class: "allowed" }),
      s("path", { d: `M${at(f.value)} 3V19`, class: inside ? "mark" : "mark out" })),
    h("span", { class: "ends" }, h("span", {}, told(f.kind, low)), h("span", {}, inside ? "allowed" : "outside"), h("span", {}, told(f.kind, high))));
  }

  function findings() {
    const had = document.activeElement?.dataset?.remedy;
    findingsNode.classList.toggle("before", state.findingsBefore);
    findingsHead.textContent = state.findingsBefore ? "Findings from before; new ones when your hand rests" : "Findings";
    if (!state.findings.length) { put(findingsNode, h("li", { class: "quiet" }, state.figures.length ? "Nothing to warn of." : "–")); return; }
    put(findingsNode, state.findings.map((finding) => h("li", { class: finding.severity },
      h("span", { class: "mark", "aria-label": MARKS[finding.severity]?.[1] ?? "" }, MARKS[finding.severity]?.[0] ?? "·"),
      h("div", {}, h("p", { class: "says" }, spoken(finding.says)),
        h("details", {}, h("summary", {}, "Why"), h("p", {}, spoken(finding.because))),
        (finding.remedies ?? []).map((remedy, i) => h("div", { class: "remedy" }, h("p", {}, spoken(remedy.says), remedy.moves ? h("span", { class: "quiet" }, ` ${spoken(remedy.moves)}`) : null),
          remedy.changes.length ? h("button", { type: "button", data: { remedy: `${finding.id}${i}` }, disabled: state.stale || state.findingsBefore, onclick: () => plainly({ do: "remedy", finding: finding.id, index: i, imperial: isImperial() }, `Done: ${spoken(remedy.says)} Undo takes it back.`) }, "Do this") : null))))));
    if (!state.advised && !state.stale) findingsNode.append(h("li", { class: "quiet" }, "Looking for remedies …"));
    if (had) findingsNode.querySelector(`[data-remedy="${had}"]`)?.focus({ preventScroll: true });
  }

  function last() {
    put(undoLast, state.undo ? [h("span", { class: "quiet" }, "Last: "), state.undo, " ", h("button", { type: "button", onclick: () => { plainly({ do: "undo" }); say(`Took back: ${state.undo}`); } }, "Undo")] : null);
  }

  for (const topic of ["figures", "document", "units"]) watch(topic, draw);
  watch("scene", () => { node.classList.toggle("stale", state.stale); standing(); });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => changed("look"));
  draw();
}
