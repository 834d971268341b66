// Compare: this design beside another one, or beside what it was some edits ago.

import { capital, h, s, put, same } from "../dom.js";
import { drawer } from "../designs.js";
import { ask, hear } from "../line.js";
import { nthOf, shown } from "../saying.js";
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
    h("optgroup", { label: "another design" }, state.designs.filter((name) => name !== state.name).map((name) => h("option", { value: `f${name}` }, name.replace(/\.toml$/, "")))));
  const mine = drawer();
  choice.addEventListener("change", async () => {
    mine.set("beside", choice.value);
    if (!choice.value) return;
    const other = choice.value[0] === "n" ? Number(choice.value.slice(1)) : choice.value.slice(1);
    put(out, h("p", { class: "quiet" }, "Working it out …"));
    try { await ask({ do: "compare", name: state.name, with: other }); fault.textContent = ""; } catch (error) { fault.textContent = error.says; put(out); }
  });
  hearer = ({ data }) => { data.title = data.title.replace(/\.toml$/, ""); put(out,
    h("p", { class: "key" }, h("span", {}, s("svg", { viewBox: "0 0 26 8", width: "26", height: "8", "aria-hidden": "true" }, s("path", { d: "M0 4H26", class: "curve" })), "now"), h("span", {}, s("svg", { viewBox: "0 0 26 8", width: "26", height: "8", "aria-hidden": "true" }, s("path", { d: "M0 4H26", class: "curve accent dash" })), data.title)),
    h("div", { class: "two" }, overlay("top", data), overlay("side", data)),
    table("Side by side", ["figure", "now", data.title, "difference"], data.rows.map((row) => [row.label, told(row.kind, row.mine), told(row.kind, row.theirs),
      row.mine !== null && row.theirs !== null ? `${row.mine >= row.theirs ? "+" : ""}${told(row.kind, row.mine - row.theirs)}` : "–"])),
    differences(data),
    h("div", { class: "two" }, findings("Findings now", data.here), findings(`Findings of ${data.title}`, data.findings))); };
  fill();
  const off = watch("document", fill);
  const node = h("section", { class: "compare" }, h("h2", {}, "Compare"), h("div", { class: "row" }, h("label", { for: "with" }, "This design beside"), choice), fault, out);
  const again = mine.get("beside");
  return { node, shown() { if (again && [...choice.options].some((one) => one.value === again)) { choice.value = again; choice.dispatchEvent(new Event("change")); } }, close() { off(); hearer = null; } };
}

const findings = (title, list) => h("section", { class: "card" }, h("h3", {}, title), h("ul", { class: "notes" }, list.length ? list.map((f) => h("li", {}, spoken(f.says))) : h("li", {}, "Nothing to warn of.")));

// Every value of the design that is not the same in both.
function differences(data) {
  const rows = [];
  const put1 = (words, mine, theirs) => rows.push([words, mine, theirs]);
  function walk(controls, mine, theirs, words) {
    for (const control of controls) {
      const [a, b] = [mine?.[control.key], theirs?.[control.key]];
      if (same(a ?? null, b ?? null)) continue;
      const title = [...words, control.label].join(", ");
      if (control.kind === "table") {
        if (a && b) walk(control.inside, a, b, [...words, control.label]); else put1(title, a ? "yes" : "–", b ? "yes" : "–");
      } else if (control.kind === "list") {
        for (let i = 0; i < Math.max(a?.length ?? 0, b?.length ?? 0); i += 1) {
          const name = [...words, a?.[i]?.name ?? b?.[i]?.name ?? nthOf(control, i)];
          if (same(a?.[i] ?? null, b?.[i] ?? null)) continue;
          if (a?.[i] && b?.[i]) walk(control.inside, a[i], b[i], name); else put1(name.join(", "), a?.[i] ? "yes" : "–", b?.[i] ? "yes" : "–");
        }
      } else put1(title, shown(control, a), shown(control, b));
    }
  }
  walk(state.controls, state.values, data.values, []);
  if (!rows.length) return h("p", { class: "quiet" }, "No value of the design differs.");
  return table("What differs in the design", ["value", "now", data.title], rows.slice(0, 200).map(([words, a, b]) => [capital(words), a, a === b ? "drawn otherwise" : b]));
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
