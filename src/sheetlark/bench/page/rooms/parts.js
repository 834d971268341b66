// Parts: whether they go together in space, and every part that is cut, drawn to one scale.

import { capital, h, held, put, s, say } from "../dom.js";
import { mm, spoken } from "../units.js";
import { table } from "../plot.js";
import { controlOf, placeOf, shown, shownWritten } from "../saying.js";
import { commit, state, watch } from "../state.js";
import { computedRoom, errand } from "./shared.js";

export function partsRoom() {
  const told = h("div", { class: "proof", "aria-live": "polite" });
  const trying = errand("proof", "Try them in space again", (found) => put(told, ...proof(found)), { again: true });
  const cut = cutParts();
  const card = h("div", { class: "card" }, h("h3", {}, "Do they go together?"), trying.node, told);
  cut.node.querySelector("h2").after(card);
  let tried = -1;
  function again() {
    if (state.dragging || tried === state.revision || !state.name) return;
    tried = state.revision;
    trying.run();
  }
  const off = watch("document", again);
  return { node: cut.node, shown: again, close() { off(); trying.stop(); cut.close(); } };
}

function proof({ clean, tried, least_gap_mm: gaps, clashes }) {
  const what = `${tried.pairs} pairs of parts, ${tried.slots} slots, ${tried.positions} positions of moving surfaces and ${tried.items} items were tried.`;
  const closest = Object.entries(gaps).sort((a, b) => a[1] - b[1])[0];
  if (clean) return [h("p", {}, h("strong", {}, "Yes. "), what, closest ? ` The closest moving surface is the ${closest[0]}, which keeps ${mm(closest[1], 1)}.` : "")];
  return [
    h("p", {}, h("strong", {}, "Not yet. "), what),
    h("ul", { class: "findings" }, clashes.map((clash) => h("li", { class: "fault" }, h("span", { class: "mark", "aria-label": "Fault" }, "✕"), h("div", {}, h("p", { class: "says" }, sentence(clash.says)), h("p", {}, sentence(clash.cure)), remedy(clash))))),
  ];
}

// Where one value of the design clears it, that value is offered; the parts are tried again by themselves afterwards.
function remedy(clash) {
  const control = clash.change && controlOf(clash.change.where);
  if (!control) return null;
  const { where, value } = clash.change;
  const words = `${capital(placeOf(where))}: ${shownWritten(control, value)}`;
  const now = shown(control, held(state.values, where));
  const fault = h("p", { class: "refusal", role: "alert" });
  return h("div", { class: "remedy" }, h("p", {}, words, h("span", { class: "quiet" }, ` instead of ${now}.`)), fault,
    h("button", { type: "button", "aria-label": `Do this: ${words}`, onclick: async () => {
      const error = await commit([[where, value]], `clear ${clash.first} of ${clash.second}`);
      if (error) fault.textContent = error.says; else say(`Done: ${words}. Undo takes it back.`);
    } }, "Do this"));
}

const sentence = (words) => `${capital(spoken(words))}.`;

function cutParts() {
  return computedRoom("parts", "Parts", ({ parts, rods, notes }) => {
    const count = parts.reduce((sum, part) => sum + part.count, 0);
    const largest = Math.max(...parts.map((part) => Math.max(...part.size)), 1);
    return [
      h("p", { class: "lead" }, h("strong", {}, `${count} pieces`), ` from ${parts.length} patterns, drawn to one scale. Solid lines are cut; the others are only marked.`),
      h("ul", { class: "parts" }, parts.map((part) => h("li", { style: { "--share": String(Math.max(...part.size) / largest) } }, drawing(part, largest), h("div", {}, h("strong", {}, `${part.number}  ${part.name}`), h("span", { class: "quiet" }, ` ${part.count > 1 ? `${part.count} of them, ` : ""}${spoken(`${part.size[0].toFixed(0)} × ${part.size[1].toFixed(0)} mm`)}, ${part.sheet}`))))),
      rods.length ? table("Rods, strips and wire to cut", ["what", "length", "of"], rods.map((rod) => [rod.name, mm(rod.length), rod.stock])) : null,
      notes.length ? [h("h3", {}, "What no part shows"), h("ul", { class: "notes" }, notes.map((note) => h("li", {}, spoken(note))))] : null,
    ];
  });
}

const line = (points) => points.map(([x, y], i) => `${i ? "L" : "M"}${x} ${-y}`).join("");

// Each lies along its longer side, as large as the longest of them leaves it.
function drawing(part, largest) {
  const tall = part.size[1] > part.size[0];
  const lie = (points) => (tall ? points.map(([x, y]) => [y, -x]) : points);
  const outline = lie(part.outline);
  const xs = outline.map((p) => p[0]), ys = outline.map((p) => p[1]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const pad = largest * 0.004;
  const width = x1 - x0 + 2 * pad, height = y1 - y0 + 2 * pad;
  const svg = s("svg", { viewBox: `${x0 - pad} ${-y1 - pad} ${width} ${height}`, class: "part", role: "img", "aria-label": `part ${part.number}, ${part.name}` },
    s("path", { d: [outline, ...part.holes.map(lie)].map((ring) => `${line(ring)}Z`).join(""), class: "cut" }),
    part.marks.map((mark) => s("path", { d: line(lie(mark.points)), class: `mark ${mark.kind}` }, mark.note ? s("title", {}, mark.note) : null)));
  return svg;
}
