// Beside the light box: the same things in words and boxes to type in, so that nothing needs a pointer.

import { h, put } from "../dom.js";
import { asWritten, mm, withUnit } from "../units.js";
import { copy, keyOf } from "./geometry.js";
import { PARTS, halves, wordsFor } from "./work.js";

// A box to write in, with what was refused in it and why.
export function boxOf(work, { id, label, value, ...extra }) {
  const wrong = work.wrong?.id === id ? work.wrong : null;
  return [h("div", { class: "row" }, h("label", { for: id }, label), h("div", { class: "holds" },
    h("input", { type: "text", id, value: wrong?.text ?? value, autocomplete: "off", "aria-invalid": wrong ? "true" : undefined, "aria-describedby": wrong ? `${id}-wrong` : undefined, ...extra }))),
  wrong ? h("p", { class: "refusal", id: `${id}-wrong`, role: "alert" }, wrong.says) : null];
}

const pct = (v) => `${Math.round(100 * v)} % sure`;

export function tracingList(work, { commit, choose, board, draw }) {
  const what = h("select", { id: "draw-what", onchange: () => { half.checked = halves(what.value); half.disabled = !halves(what.value); restart(); } }, PARTS.map(([key, words]) => h("option", { value: key }, words)));
  const half = h("input", { type: "checkbox", id: "draw-half", checked: true, onchange: () => restart() });
  const restart = () => board().retold();
  let told = "";
  // An outline begun some time ago says what it is.
  function unfinished() {
    const draft = work.marks.draft;
    const key = draft ? keyOf(draft) : "";
    if (key && key !== told && PARTS.some(([k]) => k === key)) { what.value = key; half.disabled = !halves(key); half.checked = draft.half; }
    told = key;
    put(begun, draft ? [h("p", { class: "small" }, `Unfinished: ${wordsFor(draft)}, ${draft.nodes.length} ${draft.nodes.length === 1 ? "node" : "nodes"}.`),
      h("button", { type: "button", class: "remove", onclick: () => set(`drop the unfinished ${draft.name}`, (f) => { f.draft = null; }) }, "Drop it")] : null);
    drawIt.textContent = draft ? "Go on drawing" : "Draw it";
  }
  const body = h("div", {});
  const begun = h("div", { class: "buttons begun" });
  const drawIt = h("button", { type: "button", id: "draw-it", onclick: () => draw() }, "Draw it");
  const node = h("section", { class: "found-list", "aria-label": "What was found, and what you set right" }, body,
    h("h3", {}, "Draw by hand"),
    h("div", { class: "row" }, h("label", { for: "draw-what" }, "what"), h("div", { class: "holds" }, what)),
    h("label", { class: "tick" }, half, "one half; the other mirrors it"),
    begun, h("div", { class: "buttons" }, drawIt, h("button", { type: "button", id: "draw-end", onclick: () => board().finish() }, "Close the outline")));

  const set = (label, change, box) => { const fresh = copy(work.marks); change(fresh); commit(fresh, label, box); };
  function field(id, label, value, words, change, extra = {}) {
    const typed = (event) => { delete event.target.dataset.touched; const text = event.target.value.trim(); set(words, (m) => change(m, text), { id, text }); };
    return boxOf(work, { id, label, value, oninput: (event) => { event.target.dataset.touched = "1"; }, onchange: typed, ...extra });
  }
  const length = (id, label, value, words, change, extra) => field(id, label, asWritten("length", value), words, (m, text) => change(m, withUnit("length", text)), extra);

  function size() {
    const m = work.marks;
    return [h("h3", {}, "Size"),
      length("picture-span", "span of the model", m.span, "set the span", (f, v) => { f.span = v; }, { placeholder: "sized by the mass to aim at" }),
      length("picture-length", "length, if known", m.length, "set the length", (f, v) => { f.length = v; }, { placeholder: "checks the scale" }),
      m.scale_line ? [length("scale-length", "the scale line is", m.scale_length, "set the scale line's length", (f, v) => { f.scale_length = v; }, { placeholder: mm(640, 0) }),
        m.scale_length ? h("p", { class: "help" }, `It sets the scale; the span comes out as ${work.tracing ? mm(work.tracing.span_mm) : "…"}.`) : h("p", { class: "help" }, "Give its length at model size."),
        h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => choose({ kind: "scale" }, true) }, "Move its ends"), h("button", { type: "button", class: "remove", onclick: () => set("take the scale line away", (f) => { f.scale_line = null; f.scale_length = ""; }) }, "Remove scale line"))]
        : h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => draw("scale") }, "Draw a scale line")),
      work.pages > 1 ? field("picture-page", `page, of ${work.pages}`, String(m.page), "turn to another page", (f, v) => { f.page = Math.min(work.pages, Math.max(1, Number.parseInt(v, 10) || 1)); }) : null];
  }

  function sheet() {
    const m = work.marks;
    const found = work.turned();
    const turned = m.turned_deg ?? (Number.isFinite(found) ? Math.round(10 * found) / 10 || 0 : undefined);
    const quarter = (f) => { const next = (found ?? 0) + 90; f.turned_deg = Math.round(100 * (next > 180 ? next - 360 : next)) / 100; };
    return [h("h3", {}, "Sheet"),
      field("picture-turn", "turned by, degrees", turned === undefined || turned === null ? "" : String(Math.round(turned * 100) / 100), "turn the sheet", (f, v) => { const n = Number(v.replace(",", ".").replace("−", "-")); f.turned_deg = v === "" || !Number.isFinite(n) ? null : n; }, { inputmode: "decimal" }),
      h("div", { class: "buttons" }, h("button", { type: "button", title: "For a sheet that lies on its side; twice for one upside down", onclick: () => set("turn the sheet by a quarter", quarter) }, "Turn by a quarter"),
        m.turned_deg !== null ? h("button", { type: "button", onclick: () => set("find the turn again", (f) => { f.turned_deg = null; }) }, "Find it again") : null),
      h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => draw("centre") }, m.centre_line ? "Draw the centre line anew" : "Draw the centre line"),
        m.centre_line ? [h("button", { type: "button", onclick: () => choose({ kind: "centre" }, true) }, "Move its ends"), h("button", { type: "button", class: "remove", onclick: () => set("take the centre line away", (f) => { f.centre_line = null; }) }, "Remove centre line")] : null)];
  }

  function select(id, label, value, options, change) {
    return h("select", { id, "aria-label": label, onchange: (event) => change(event.target.value) }, options.map(([v, words]) => h("option", { value: v, selected: v === value }, words)));
  }

  function views() {
    const m = work.marks;
    const rows = work.views(m).map((v) => h("li", { class: work.chosen?.kind === "view" && work.chosen.key === v.kind ? "chosen" : "" },
      h("div", { class: "pairing" },
        select(`view-${v.kind}`, `Kind of the ${v.kind} view`, v.kind, ["top", "side", "front"].map((k) => [k, k]), (kind) => commit(work.withBox(v.kind, (b, f) => { const other = f.boxes.find((one) => one.kind === kind && one !== b); if (other) other.kind = v.kind; b.kind = kind; b.nose = ""; }), `the ${v.kind} view is the ${kind} view`)),
        v.kind === "front" ? h("span", { class: "quiet" }, "from ahead") : select(`nose-${v.kind}`, `Nose of the ${v.kind} view`, v.nose, [["", "nose: find it"], ["up", "nose up"], ["down", "nose down"], ["left", "nose left"], ["right", "nose right"]], (nose) => commit(work.withBox(v.kind, (b) => { b.nose = nose; }), `the ${v.kind} view's nose points ${nose || "where it is found"}`))),
      h("p", { class: "small quiet" }, v.byHand ? (v.found ? "boxed by hand" : "boxed by hand; nothing closed was found in it") : pct(v.confidence)),
      h("div", { class: "buttons" }, h("button", { type: "button", "aria-label": `Move the corners of the ${v.kind} view`, onclick: () => choose({ kind: "view", key: v.kind }, true) }, "Move its corners"),
        h("button", { type: "button", class: "remove", "aria-label": `Leave the ${v.kind} view out`, onclick: () => commit(work.withBox(v.kind, (b, f) => { f.boxes = f.boxes.filter((one) => one !== b); }), `leave the ${v.kind} view out`) }, "Leave it out"))));
    return [h("h3", {}, "Views"), rows.length ? h("ul", { class: "found-rows" }, rows) : h("p", { class: "quiet" }, work.looking && !work.tracing ? "Looking for them …" : "None was found. Box each view in, or draw the outlines by hand."),
      h("div", { class: "buttons" }, h("button", { type: "button", onclick: () => draw("box") }, "Box a view"), m.boxes.length ? h("button", { type: "button", onclick: () => set("find the views again", (f) => { f.boxes = []; }) }, "Find the views again") : null)];
  }

  function outlines() {
    const rows = work.outlines(work.marks).map((o, i) => {
      const key = keyOf(o), chosen = work.chosen?.kind === "outline" && work.chosen.key === key;
      const known = PARTS.some(([k]) => k === key);
      const rename = (to) => { const fresh = copy(work.marks); const [part, view, name] = to.split("/"); fresh.outlines = fresh.outlines.filter((one) => keyOf(one) !== to); const mine = fresh.outlines.find((one) => keyOf(one) === key); Object.assign(mine, { part, view, name, half: mine.half && halves(to) }); work.chosen = { kind: "outline", key: to }; commit(fresh, `${o.name} is the ${name}`); };
      return h("li", { class: `${chosen ? "chosen" : ""}${o.leftOut ? " left-out" : ""}` },
        o.byHand ? select(`what-${i}`, `What the outline ${o.name} is`, key, known ? PARTS : [[key, wordsFor(o)], ...PARTS], rename) : h("strong", {}, wordsFor(o)),
        h("p", { class: "small quiet" }, o.leftOut ? "left out" : o.byHand ? `by hand, ${o.nodes.length} nodes${o.half ? ", one half" : ""}` : `${pct(o.confidence)}, ${o.error.worst ? `${mm(o.error.rms, 2)} off the ink on average, ` : ""}${o.nodes.length} nodes`),
        h("div", { class: "buttons" }, h("button", { type: "button", "aria-label": `Move the nodes of ${o.name}, ${o.view}`, onclick: () => choose({ kind: "outline", key }, true) }, "Move its nodes"),
          o.byHand ? h("button", { type: "button", class: "remove", "aria-label": `Remove the drawn ${o.name}, ${o.view}`, onclick: () => set(`take the drawn ${o.name} away`, (f) => { f.outlines = f.outlines.filter((one) => keyOf(one) !== key); }) }, "Remove it")
            : h("button", { type: "button", class: "remove", "aria-label": `${o.leftOut ? "Take in" : "Leave out"} ${o.name}, ${o.view}`, onclick: () => set(`${o.leftOut ? "take in" : "leave out"} ${o.name}`, (f) => { f.left_out = o.leftOut ? f.left_out.filter((one) => one !== key) : [...f.left_out, key]; }) }, o.leftOut ? "Take it in" : "Leave it out")));
    });
    return [h("h3", {}, "Outlines"), rows.length ? h("ul", { class: "found-rows" }, rows) : h("p", { class: "quiet" }, work.looking && !work.tracing ? "Looking for them …" : "None yet.")];
  }

  function show() {
    if (!work.marks) { put(body); return; }
    unfinished();
    const had = document.activeElement;
    const id = body.contains(had) ? had.id : "";
    const label = body.contains(had) ? had.getAttribute("aria-label") ?? had.textContent : "";
    if (body.contains(had) && had.dataset.touched) return; // half typed
    put(body, [size(), views(), sheet(), outlines()].map((kids) => h("section", {}, kids)));
    if (id) document.getElementById(id)?.focus({ preventScroll: true });
    else if (label) [...body.querySelectorAll("button")].find((b) => (b.getAttribute("aria-label") ?? b.textContent) === label)?.focus({ preventScroll: true });
  }

  return { node, show, what: () => { const [part, view, name] = what.value.split("/"); return { part, view, name, half: half.checked && halves(what.value) }; },
    propose() { // the next thing not yet there
      const there = new Set(work.outlines(work.marks).map(keyOf));
      const next = ["wing/top/wing", "tail/top/tailplane", "body/side/body side", "fin/side/fin"].find((k) => !there.has(k));
      if (next) { what.value = next; half.checked = halves(next); half.disabled = !halves(next); }
    } };
}
