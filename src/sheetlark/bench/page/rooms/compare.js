// Compare: this design beside another one, or beside what it was some edits ago.

import { h, s, put } from "../dom.js";
import { ask, hear } from "../line.js";
import { spoken, told } from "../units.js";
import { state, watch } from "../state.js";
import { table } from "../plot.js";

let hearer = null;
hear("compared", (m) => hearer?.(m));

export function compareRoom() {
  const out = h("div", {}, h("p", { class: "quiet" }, "Choose what to compare with."));
  const fault = h("p", { class: "refusal", role: "alert" });
  const choice = h("select", { id: "with" });
  const fill = () => put(choice, h("option", { value: "" }, "choose"),
    h("optgroup", { label: "what it was" }, state.labels.map((label, i) => h("option", { value: `n${i + 1}` }, `before: ${label}`))),
    h("optgroup", { label: "another design" }, state.designs.filter((name) => name !== state.name).map((name) => h("option", { value: `f${name}` }, name))));
  choice.addEventListener("change", async () => {
    if (!choice.value) return;
    const other = choice.value[0] === "n" ? Number(choice.value.slice(1)) : choice.value.slice(1);
    put(out, h("p", { class: "quiet" }, "Working it out …"));
    try { await ask({ do: "compare", name: state.name, with: other }); fault.textContent = ""; } catch (error) { fault.textContent = error.says; put(out); }
  });
  hearer = ({ data }) => put(out,
    h("div", { class: "two" }, overlay("top", data), overlay("side", data)),
    h("p", { class: "key" }, h("span", {}, s("svg", { viewBox: "0 0 26 8", width: "26", height: "8", "aria-hidden": "true" }, s("path", { d: "M0 4H26", class: "curve" })), "now"), h("span", {}, s("svg", { viewBox: "0 0 26 8", width: "26", height: "8", "aria-hidden": "true" }, s("path", { d: "M0 4H26", class: "curve accent dash" })), data.title)),
    table("Side by side", ["figure", "now", data.title, "difference"], data.rows.map((row) => [row.label, told(row.kind, row.mine), told(row.kind, row.theirs),
      row.mine !== null && row.theirs !== null ? `${row.mine >= row.theirs ? "+" : ""}${told(row.kind, row.mine - row.theirs)}` : "–"])),
    h("h3", {}, `Findings of ${data.title}`), h("ul", { class: "notes" }, data.findings.length ? data.findings.map((f) => h("li", {}, spoken(f.says))) : h("li", {}, "Nothing to warn of.")));
  fill();
  const off = watch("document", fill);
  const node = h("section", { class: "compare" }, h("h2", {}, "Compare"), h("div", { class: "row" }, h("label", { for: "with" }, "This design beside"), choice), fault, out);
  return { node, close() { off(); hearer = null; } };
}

function overlay(view, data) {
  const flat = view === "top" ? ([x, y]) => [x, -y] : ([x, , z]) => [x, -z];
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  const paths = (scene, cls) => {
    const lines = scene.surfaces.flatMap((one) => (one.mirrored ? [one.line, one.line.map(([x, y, z]) => [x, -y, z])] : [one.line]));
    if (scene.body && view === "side") lines.push(scene.body.profile.map(([x, z]) => [x, 0, z]));
    if (scene.body && view === "top") lines.push([...scene.body.width.map(([x, w]) => [x, w / 2, 0]), ...scene.body.width.slice().reverse().map(([x, w]) => [x, -w / 2, 0])]);
    return lines.map((points) => {
      const p = points.map(flat);
      for (const [a, b] of p) { box[0] = Math.min(box[0], a); box[1] = Math.min(box[1], b); box[2] = Math.max(box[2], a); box[3] = Math.max(box[3], b); }
      return s("path", { d: `${p.map(([a, b], i) => `${i ? "L" : "M"}${a} ${b}`).join("")}Z`, class: `curve ${cls}` });
    });
  };
  const marks = [...paths(data.theirs, "accent dash"), ...paths(data.mine, "")];
  return h("figure", { class: "plotted" }, h("figcaption", {}, view === "top" ? "From above" : "From the side"),
    s("svg", { viewBox: `${box[0] - 10} ${box[1] - 10} ${box[2] - box[0] + 20} ${box[3] - box[1] + 20}`, class: "overlay", role: "img", "aria-label": `Both outlines, seen from ${view === "top" ? "above" : "the side"}` }, marks));
}
