// Picture: a three-view drawing on a light box; what is found in it is set right by hand, and becomes a design.

import { h, put, say } from "../dom.js";
import { ask, hear } from "../line.js";
import { asWritten, spoken, withUnit } from "../units.js";
import { errand } from "./shared.js";
import { enter } from "../main.js";
import { state, changed } from "../state.js";
import { pictureBoard } from "../tracing/board.js";
import { keyOf } from "../tracing/geometry.js";
import { boxOf, tracingList } from "../tracing/list.js";
import { newWork } from "../tracing/work.js";

// What makes a design of a picture in which nothing is found.
const BY_HAND = [
  "Centre line: from the nose to the tail of the top view.",
  "Under Draw by hand: the wing, from above. Half of it is enough, from the centre line out to the tip and back; then the tailplane, and the body.",
  "The body and the fin, from the side.",
  "The span of the model, or a scale line over a length you know.",
];

let hearer = null;
hear("marks", (m) => hearer?.(m));

export function pictureRoom() {
  const fault = h("p", { class: "refusal in-sight", role: "alert" });
  const refuse = (words) => { fault.textContent = words ?? ""; };
  const work = newWork({ refuse, changed: () => show() });
  let tracedFor = null, soon = null, begin = false, shownName = null, heard = null; // heard: the newest marks

  const chosen = h("select", { id: "picture-pick", onchange: () => { if (chosen.value) look(chosen.value); } });
  const file = h("input", { type: "file", id: "picture-file", accept: "image/png,image/jpeg,image/webp,image/svg+xml,application/pdf,.dxf", onchange: () => { if (file.files[0]) send(file.files[0]); } });
  const reading = errand("look", "Read the picture", read, { ofPicture: true });
  reading.node.querySelector("button").hidden = true;
  const tracing = errand("trace", "Trace again", traced, { again: true, ofPicture: true });
  tracing.options(() => { tracing.about = traceable(); work.looking = true; list.show(); return { picture: work.name }; });
  tracing.failed = (says) => {
    Object.assign(work, { looking: false, design: null, proposals: [] });
    const asked = JSON.parse(tracing.about);
    if (says !== "Stopped." && alike(asked)) work.traced(null, asked);
    tracedFor = tracing.about;
    show();
  };
  tracing.soFar = (result) => { found(result, tracing.about); show(); };

  const commit = (marks, label, box) => { refuse(""); return work.commit(marks, label, box); };
  const choose = (what, andFocus) => {
    if (JSON.stringify({ ...work.chosen, node: 0 }) !== JSON.stringify({ ...what, node: 0 })) work.chosen = what;
    if (andFocus) board.take("choose"); else board.draw();
    list.show();
    if (andFocus) board.node.querySelector(".handle")?.focus();
  };
  const board = pictureBoard(work, { commit, choose, refuse, whatToDraw: () => list.what(), drew: (o) => { work.chosen = { kind: "outline", key: keyOf(o) }; commit({ ...work.withOutline(o, o.nodes), draft: null }, `draw the ${o.name}`); list.propose(); } });
  const list = tracingList(work, { commit, choose, board: () => board, draw: (tool = "draw") => { board.take(tool); board.node.querySelector(".lightbox").focus({ preventScroll: true }); board.node.scrollIntoView({ block: "nearest" }); } });
  const undo = h("button", { type: "button", id: "mark-undo", onclick: () => back() }), redo = h("button", { type: "button", id: "mark-redo", onclick: () => work.step("redo") });
  const steps = h("div", { class: "buttons steps-of" }, undo, redo);
  const design = h("section", { class: "make-design", hidden: true });
  const desk = h("div", { class: "lightdesk", hidden: true }, h("div", {}, h("div", { class: "under" }, steps, tracing.node), board.node), list.node);
  const drop = h("div", { class: "drop" },
    h("div", { class: "row" }, h("label", { for: "picture-file" }, "drop a picture here, or"), file),
    h("div", { class: "row" }, h("label", { for: "picture-pick" }, "or one of this folder"), chosen), reading.node);
  const lead = h("p", { class: "lead" }, "Begin with a three-view drawing you may use: your own, or one that is free. PNG, JPEG, WebP, PDF, SVG or DXF, at most 12 MB. It does not leave this machine.");
  // Words that come and go lie below the picture, so that it stays in its place under the pencil.
  const failed = h("span", { class: "told" });
  tracing.node.append(failed);
  const node = h("section", { class: "picture" }, h("h2", {}, "Picture"), lead, drop, desk, fault, tracing.fault, design);
  for (const kind of ["dragover", "drop"]) node.addEventListener(kind, (event) => { event.preventDefault(); node.classList.toggle("over", kind === "dragover"); if (kind === "drop" && event.dataTransfer.files[0]) send(event.dataTransfer.files[0]); });
  node.addEventListener("dragleave", () => node.classList.remove("over"));

  function pictures() { put(chosen, h("option", { value: "" }, state.pictures.length ? "choose" : "none yet"), state.pictures.map((name) => h("option", { value: name, selected: name === work.name }, name))); }

  async function send(given) {
    refuse("");
    if (given.size > 12e6) { refuse(`This file has ${(given.size / 1e6).toFixed(1)} MB; at most 12 MB are taken. Save it smaller.`); return; }
    const answer = await fetch(`/upload?name=${encodeURIComponent(given.name.replace(/\.toml$/i, ""))}`, { method: "POST", body: given }).catch(() => null);
    const told = answer ? await answer.json().catch(() => ({ says: "The picture could not be taken." })) : { says: "The picture could not be sent." };
    if (told.picture) look(told.picture); else refuse(told.says);
  }
  function look(picture, page = 1) { refuse(""); reading.options(() => ({ picture, page })); reading.run(); }

  function read(result) {
    const other = result.name !== work.name;
    if (other) { Object.assign(work, { design: null, proposals: [], lacks: "", chosen: null }); work.traced(null, { outlines: [] }); }
    answers.clear();
    Object.assign(work, { name: result.name, size: result.size, pages: result.pages });
    state.pictures = result.pictures;
    localStorage.setItem("picture", result.name);
    if (heard?.picture === result.name) work.take(heard);
    desk.hidden = design.hidden = false;
    lead.hidden = true;
    drop.classList.add("taken");
    board.show(`/seen/${encodeURIComponent(result.name)}?${Date.now()}`, result.size);
    tracedFor = null;
    pictures();
    show();
    traceSoon(0);
  }

  hearer = (m) => {
    heard = m;
    const page = work.marks?.page;
    if (m.picture !== work.name) return;
    work.take(m);
    if (page && work.marks.page !== page) look(work.name, work.marks.page);
  };

  // Trace again a moment after the last correction.
  function traceSoon(after = 600) {
    clearTimeout(soon);
    if (!work.name || !work.marks) return;
    soon = setTimeout(() => { if (work.quiet() && tracedFor !== traceable() && !(work.looking && tracing.about === traceable())) tracing.run(); }, after);
  }
  // What each marks came to, the newest last: a step taken back or done again shows it at once.
  const answers = new Map();
  function traced(result) {
    work.looking = false;
    answers.delete(tracing.about);
    answers.set(tracing.about, result);
    if (answers.size > 8) answers.delete(answers.keys().next().value);
    if (tracing.about === traceable()) answered(result); else found(result, tracing.about);
    if (!list.proposed && work.tracing) { list.proposed = true; list.propose(); }
    show();
    if (begin && tracedFor === traceable()) keep();
  }
  function answered(result) {
    tracedFor = traceable();
    work.traced(result.tracing, work.marks);
    Object.assign(work, { design: result.design, proposals: result.proposals, lacks: result.lacks });
  }
  // What was found with other marks is shown if it would be the same with these.
  function found(result, about) { const asked = JSON.parse(about); if (alike(asked)) work.traced(result.tracing, asked); }
  function recall() {
    const known = tracedFor === traceable() ? null : answers.get(traceable());
    if (!known) return;
    tracing.stop();
    work.looking = false;
    answered(known);
  }

  // What the tracing looks at: an outline still being drawn changes nothing of it.
  const traceable = () => JSON.stringify({ ...work.marks, draft: null });
  const alike = (marks) => { const [a, b] = [marks, work.marks].map((m) => JSON.stringify({ ...m, mass: "", title: "", left_out: [], refused: [], draft: null })); return a === b; };
  const fresh = () => tracedFor === traceable() && work.quiet();
  function show() {
    if (!work.marks) return;
    recall();
    board.draw();
    list.show();
    steppers();
    failed.textContent = !work.looking && tracing.fault.textContent ? "not traced; why is said below" : "";
    makeDesign();
    changed("history");
    if (tracedFor !== traceable()) traceSoon();
  }
  function steppers() {
    put(undo, "↶ Undo"); put(redo, "↷ Redo");
    undo.disabled = !work.undo; redo.disabled = !work.redo;
    undo.title = work.undo ? `Undo: ${work.undo}` : "Nothing to undo"; redo.title = work.redo ? `Redo: ${work.redo}` : "Nothing to redo";
  }
  function back() { if (work.undo) { say(`Took back: ${work.undo}`); work.step("undo"); } }

  function makeDesign() {
    const m = work.marks;
    if (design.contains(document.activeElement) && document.activeElement.dataset.touched) return; // half typed
    const had = document.activeElement?.id;
    const oninput = (event) => { event.target.dataset.touched = "1"; };
    const put1 = (field, label, read = (text) => text) => (event) => { delete event.target.dataset.touched; const text = event.target.value.trim(); commit({ ...structuredClone(m), [field]: read(text) }, label, { id: event.target.id, text }); };
    const t = work.tracing;
    put(design, h("h3", {}, "Make a design of it"),
      t ? h("p", { class: "lead" }, h("strong", {}, `${t.views.length} view${t.views.length === 1 ? "" : "s"}`), `, ${work.outlines(m).filter((o) => !o.leftOut).length} outlines${fresh() ? "." : work.looking ? "; working on it …" : "; tracing again …"}`) : null,
      !t && tracedFor ? h("ol", { class: "by-hand-steps" }, BY_HAND.map((words) => h("li", {}, words))) : null,
      t?.notes.length ? h("ul", { class: "notes" }, t.notes.map((n) => h("li", {}, spoken(n.says)))) : null,
      work.lacks ? h("p", { class: "refusal" }, spoken(work.lacks)) : null,
      boxOf(work, { id: "picture-name", label: "name of the design", value: m.title, maxlength: "60", oninput, onchange: put1("title", "name the design") }),
      boxOf(work, { id: "picture-mass", label: "mass to aim at, if known", value: asWritten("mass", m.mass), placeholder: "light for its wing", oninput, onchange: put1("mass", "set the mass", (text) => withUnit("mass", text)) }),
      work.proposals.length ? h("fieldset", { class: "proposals" }, h("legend", {}, "What a flat-sheet builder would make simpler: take each, or refuse it"), work.proposals.map((p) => proposal(p, m))) : null,
      h("div", { class: "buttons" }, h("button", { type: "button", class: "main", id: "begin-traced", disabled: !work.design && !begin, onclick: () => { begin = true; if (fresh()) keep(); else traceSoon(0); } }, "Begin a design with these outlines")));
    if (had && design.querySelector(`#${CSS.escape(had)}`)) document.getElementById(had).focus({ preventScroll: true });
  }
  function proposal(p, m) {
    return h("label", { class: "proposal" }, h("input", { type: "checkbox", id: `take-${p.id}`, checked: !m.refused.includes(p.id), onchange: (event) => {
      const taken = event.target.checked;
      commit({ ...structuredClone(m), refused: taken ? m.refused.filter((id) => id !== p.id) : [...m.refused, p.id] }, `${taken ? "take" : "refuse"} ${p.id.replaceAll("-", " ")}`);
    } }), h("span", {}, spoken(p.says), " ", h("span", { class: "quiet" }, spoken(p.worth))));
  }

  async function keep() {
    begin = false;
    if (!work.design) return;
    try { await ask({ do: "keep", new: work.marks.title, text: work.design }); await enter(`${work.marks.title.trim()}.toml`); location.hash = "shape"; } catch (error) { work.wrong = { id: "picture-name", text: work.marks.title, says: error.says }; show(); document.getElementById("picture-name").focus(); }
  }

  pictures();
  const last = localStorage.getItem("picture");
  if (last && state.pictures.includes(last)) look(last);
  return {
    node,
    units: show,
    history: { undo: back, redo: () => work.step("redo"), labels: () => [work.undo, work.redo] },
    close() { clearTimeout(soon); hearer = null; board.close(); reading.stop(); tracing.stop(); },
  };
}
