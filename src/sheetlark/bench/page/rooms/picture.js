// Picture: a three-view drawing is traced into outlines, and those into a design to begin with.

import { h, s, put } from "../dom.js";
import { ask } from "../line.js";
import { errand } from "./shared.js";
import { enter } from "../main.js";

export function pictureRoom() {
  let picture = null, shownUrl = null;
  const out = h("div", {});
  const fault = h("p", { class: "refusal", role: "alert" });
  const file = h("input", { type: "file", id: "picture-file", accept: "image/png,image/jpeg,image/webp,image/svg+xml,application/pdf,.dxf" });
  const span = h("input", { type: "text", id: "picture-span", value: "760 mm", autocomplete: "off" });
  const name = h("input", { type: "text", id: "picture-name", value: "traced", autocomplete: "off", maxlength: "60" });
  const sheet = h("div", { class: "traced" });
  const work = errand("trace", "Trace it", show);
  work.options(() => ({ picture, span: span.value, title: name.value }));
  const start = work.node.querySelector("button");
  start.disabled = true;
  file.addEventListener("change", async () => {
    const chosen = file.files[0];
    if (!chosen) return;
    fault.textContent = "";
    start.disabled = true;
    if (chosen.size > 12e6) { fault.textContent = `This file has ${(chosen.size / 1e6).toFixed(1)} MB; at most 12 MB are taken. Save it smaller.`; return; }
    const answer = await fetch(`/upload?name=${encodeURIComponent(chosen.name.replace(/\.toml$/i, ""))}`, { method: "POST", body: chosen }).catch(() => null);
    const told = answer ? await answer.json().catch(() => ({ says: "The picture could not be taken." })) : { says: "The picture could not be sent." };
    if (!told.picture) { fault.textContent = told.says; return; }
    picture = told.picture;
    start.disabled = false;
    if (shownUrl) URL.revokeObjectURL(shownUrl);
    shownUrl = /^image\/(png|jpeg|webp)$/.test(chosen.type) ? URL.createObjectURL(chosen) : null;
    put(sheet, shownUrl ? h("img", { src: shownUrl, alt: "The picture you chose" }) : h("p", { class: "quiet" }, chosen.name));
    put(out);
  });

  function show({ tracing, design, proposals }) {
    const [w, t] = tracing.size_px;
    if (shownUrl) put(sheet, h("img", { src: shownUrl, alt: "The picture you chose" }),
      s("svg", { viewBox: `0 0 ${w} ${t}`, "aria-hidden": "true" }, tracing.views.map((v) => [s("rect", { x: v.box_px[0], y: v.box_px[1], width: v.box_px[2] - v.box_px[0], height: v.box_px[3] - v.box_px[1], class: "found" }), s("text", { x: v.box_px[0] + 4, y: v.box_px[1] - 6, "font-size": Math.max(w, t) / 45, class: "found-name" }, v.kind)])));
    put(out,
      h("p", { class: "lead" }, h("strong", {}, `${tracing.views.length} views`), `: ${tracing.views.map((v) => `${v.kind} (${Math.round(100 * v.confidence)} % sure)`).join(", ")}; ${tracing.outlines.length} outlines.`),
      h("div", { class: "two" }, tracing.outlines.map((o) => outline(o))),
      tracing.notes.length ? [h("h3", {}, "What to look at again"), h("ul", { class: "notes" }, tracing.notes.map((note) => h("li", {}, note.says)))] : null,
      proposals.length ? [h("h3", {}, "What was made simpler"), h("ul", { class: "notes" }, proposals.map((p) => h("li", {}, p.says, " ", h("span", { class: "quiet" }, p.worth))))] : null,
      h("div", { class: "buttons" }, h("button", { type: "button", class: "main", onclick: async () => {
        try { await ask({ do: "keep", new: name.value, text: design }); await enter(`${name.value.trim()}.toml`); location.hash = "shape"; } catch (error) { fault.textContent = error.says; }
      } }, "Begin a design with these outlines")));
  }

  const node = h("section", { class: "picture" }, h("h2", {}, "Picture"),
    h("p", { class: "lead" }, "Begin with a three-view drawing you may use: your own, or one that is free. PNG, JPEG, WebP, PDF, SVG or DXF, at most 12 MB; it does not leave this machine."),
    h("div", { class: "row" }, h("label", { for: "picture-file" }, "the picture"), file),
    h("div", { class: "row" }, h("label", { for: "picture-span" }, "span of the model"), span),
    h("div", { class: "row" }, h("label", { for: "picture-name" }, "name of the design"), name),
    work.node, fault, sheet, out);
  return { node, close() { if (shownUrl) URL.revokeObjectURL(shownUrl); } };
}

function outline(o) {
  const probe = s("path", { d: o.path, class: "cut" });
  const svg = s("svg", { class: "part", role: "img", "aria-label": `${o.part}, ${o.view} view` }, s("g", { transform: o.view === "top" ? "" : "scale(1 -1)" }, probe));
  requestAnimationFrame(() => { const b = probe.getBBox(); const pad = 6; svg.setAttribute("viewBox", o.view === "top" ? `${b.x - pad} ${b.y - pad} ${b.width + 2 * pad} ${b.height + 2 * pad}` : `${b.x - pad} ${-b.y - b.height - pad} ${b.width + 2 * pad} ${b.height + 2 * pad}`); });
  return h("figure", { class: "plotted" }, h("figcaption", {}, `${o.name || o.part}, ${o.view}`), svg, h("p", { class: "small quiet" }, `${o.nodes} nodes, ${o.fit_error_mm.rms} mm off the ink on average, ${Math.round(100 * o.confidence)} % sure`));
}
