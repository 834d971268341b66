// The picture with everything found in it and drawn over it; tools that draw, and handles that set right.

import { h, s, put, say } from "../dom.js";
import { reachOf } from "../views.js";
import { zoomable, zoomButtons } from "../zoom.js";
import { copy, curveOrCorner, keyOf, mirrorLine, mirrored, moveHandle, moveNode, nearest, parted, pathOf, toInk, withNode } from "./geometry.js";

export const TOOLS = [
  ["choose", "Choose", "Choose what was found and move its handles. A double click on a chosen outline puts a node there."],
  ["scale", "Scale line", "Draw along something whose length you know, from end to end."],
  ["centre", "Centre line", "Draw the top view's centre line, from the nose to the tail."],
  ["level", "Level", "Draw along something that should lie level or upright; the sheet is turned to it."],
  ["box", "View box", "Draw a box round one view, then say which it is."],
  ["draw", "Draw outline", "Press at each corner; hold and pull for a curve. End at the first node, or with Enter."],
  ["part", "Split", "Choose an outline, then draw a line across it: it is cut wherever the line goes through it from edge to edge."],
];
const TWO_ENDS = new Set(["scale", "centre", "level", "box", "part"]);

// work: what is known of the picture. commit(change, label): change the marks. All told in picture.js.
export function pictureBoard(work, { commit, choose, refuse, whatToDraw, drew }) {
  let tool = "choose", start = null, end = null, pressed = false, pulled = null, pen = null, drag = null, keys = null, grey = null;
  let snap = localStorage.getItem("to-ink") !== "no";
  const picture = s("image", { x: 0, y: 0, preserveAspectRatio: "none" });
  const over = s("g", {});
  const svg = s("svg", { class: "lightbox", tabindex: "0", role: "application", "aria-label": "The picture" }, picture, over);
  const hint = h("p", { class: "help hint", id: "tool-hint" });
  const nodeBar = h("div", { class: "exact", role: "group", "aria-label": "Chosen node" });
  const buttons = h("div", { class: "choice tools-of", role: "group", "aria-label": "Tools" }, TOOLS.map(([id, title, says]) => h("button", { type: "button", "aria-pressed": "false", title: says, data: { tool: id }, onclick: () => { take(id); if (id !== "choose") svg.focus({ preventScroll: true }); } }, title)));
  const ink = h("input", { type: "checkbox", id: "to-ink", checked: snap, onchange: () => { snap = ink.checked; localStorage.setItem("to-ink", snap ? "yes" : "no"); } });
  const node = h("div", { class: "board" }, h("div", { class: "tools" }, buttons, null), hint, svg, nodeBar);

  svg.addEventListener("keydown", penKeys);
  const zoom = zoomable(svg, { fitted, redraw: draw, takes: (event) => tool === "choose" && !event.target.closest(".handle"), interrupt: () => { drag = null; start = null; pulled = null; pressed = false; draw(); } });
  // An outline not yet closed is kept with the marks, node by node; `pulled` is it while a press on it lasts.
  const draftNow = () => pulled ?? work.marks?.draft ?? null;
  const keepDraft = (draft, label) => commit({ ...copy(work.marks), draft: draft.nodes.length ? draft : null }, label ?? `node ${draft.nodes.length} of the ${draft.name}`);
  node.firstChild.append(zoomButtons(() => [zoom]), h("label", { class: "tick" }, ink, "snap to ink"));

  function fitted() {
    const [w, t] = work.size ?? [4, 3];
    const [wide, high] = [svg.clientWidth || 600, svg.clientHeight || 450];
    const k = Math.max(w / wide, t / high);
    return { x: (w - wide * k) / 2, y: (t - high * k) / 2, width: wide * k, height: high * k };
  }

  function show(url, size) {
    picture.setAttribute("width", size[0]);
    picture.setAttribute("height", size[1]);
    picture.setAttribute("href", url);
    const [w, t] = size;
    svg.style.aspectRatio = `${w} / ${t}`;
    grey = null;
    const image = new Image();
    image.onload = () => {
      const canvas = document.createElement("canvas");
      Object.assign(canvas, { width: image.naturalWidth, height: image.naturalHeight });
      const ctx = canvas.getContext("2d", { willReadFrequently: true });
      ctx.drawImage(image, 0, 0);
      grey = { data: ctx.getImageData(0, 0, canvas.width, canvas.height).data, width: canvas.width, height: canvas.height, times: w / canvas.width };
    };
    image.src = url;
    zoom.fit();
  }

  function take(id) {
    tool = id;
    start = end = drag = pulled = null;
    pressed = false;
    for (const b of buttons.children) b.setAttribute("aria-pressed", String(b.dataset.tool === id));
    const says = TOOLS.find(([each]) => each === id)[2];
    hint.textContent = id === "choose" ? says : `${says} With keys: the arrows move the pen, Enter presses it, Escape leaves off.`;
    svg.setAttribute("aria-description", hint.textContent);
    svg.classList.toggle("drawing", id !== "choose");
    draw();
  }

  // Drawing it all ---------------------------------------------------------------------------------------------

  let unit = 1;
  function draw() {
    if (!work.size || !work.marks) { put(over); return; }
    const box = zoom.box();
    svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.width} ${box.height}`);
    unit = box.width / (svg.clientWidth || 600);
    const marks = drag?.marks ?? work.marks;
    const had = document.activeElement?.dataset?.handle;
    const handles = tool === "choose" ? handlesOf(marks) : [];
    put(over, viewMarks(marks), outlineMarks(marks), lineMarks(marks), draftMarks(), handles.map(handleMark), penMark());
    if (had && !drag?.pointer) over.querySelector(`[data-handle="${CSS.escape(had)}"]`)?.focus({ preventScroll: true });
  }

  const label = (x, y, words, cls = "") => s("text", { x, y, "font-size": 13 * unit, class: `found-name ${cls}`, "stroke-width": 3 * unit }, words);
  const isChosen = (kind, key) => work.chosen?.kind === kind && (key === undefined || work.chosen.key === key);

  function viewMarks(marks) {
    return work.views(marks).map((v) => [
      s("rect", { x: v.box[0], y: v.box[1], width: v.box[2] - v.box[0], height: v.box[3] - v.box[1], class: `found${v.byHand ? " by-hand" : ""}${isChosen("view", v.kind) ? " chosen" : ""}`, data: { pick: `view:${v.kind}` } }),
      label(v.box[0] + 4 * unit, v.box[1] - 6 * unit, `${v.kind}${v.nose && v.nose !== "toward" ? `, nose ${v.nose}` : ""}`)]);
  }

  function outlineMarks(marks) {
    const mirror = mirrorLine(marks, work.tracing);
    return work.outlines(marks).map((o) => {
      const chosen = isChosen("outline", keyOf(o));
      const cls = `traced-line${o.byHand ? " by-hand" : ""}${o.leftOut ? " left-out" : ""}${chosen ? " chosen" : ""}`;
      const other = o.half && mirror ? mirrored(o.nodes, mirror) : null;
      return [other ? s("path", { d: pathOf(other, false), class: `${cls} ghost`, data: { pick: `outline:${keyOf(o)}` } }) : null,
        s("path", { d: pathOf(o.nodes, !o.half), class: cls, data: { pick: `outline:${keyOf(o)}` } }, s("title", {}, `${o.name}, ${o.view}`)),
        s("path", { d: pathOf(o.nodes, !o.half), class: "grab", data: { pick: `outline:${keyOf(o)}` } })];
    });
  }

  function lineMarks(marks) {
    const line = (ends, cls, pick, words) => (ends ? [s("path", { d: `M${ends[0].join(" ")}L${ends[1].join(" ")}`, class: `ruled ${cls}${isChosen(pick) ? " chosen" : ""}`, data: { pick } }),
      s("path", { d: `M${ends[0].join(" ")}L${ends[1].join(" ")}`, class: "grab", data: { pick } }), label((ends[0][0] + ends[1][0]) / 2 + 6 * unit, (ends[0][1] + ends[1][1]) / 2 - 6 * unit, words)] : null);
    return [line(marks.scale_line, "scale", "scale", marks.scale_length || "how long?"), line(marks.centre_line, "centre", "centre", "centre")];
  }

  function draftMarks() {
    const marks = [];
    if (start && end && tool === "box") marks.push(s("rect", { x: Math.min(start[0], end[0]), y: Math.min(start[1], end[1]), width: Math.abs(end[0] - start[0]), height: Math.abs(end[1] - start[1]), class: "found by-hand" }));
    else if (start && end && TWO_ENDS.has(tool)) marks.push(s("path", { d: `M${start.join(" ")}L${end.join(" ")}`, class: "ruled draft" }));
    const draft = draftNow();
    if (draft) {
      const mirror = draft.half ? mirrorLine(work.marks, work.tracing) : null;
      if (mirror && draft.nodes.length > 1) marks.push(s("path", { d: pathOf(mirrored(draft.nodes, mirror), false), class: "traced-line by-hand ghost" }));
      marks.push(s("path", { d: pathOf(draft.nodes, false) + (end && tool === "draw" ? `L${end.join(" ")}` : ""), class: `traced-line by-hand${tool === "draw" ? "" : " resting"}` }));
      draft.nodes.forEach((n, i) => marks.push(s("rect", { x: n.x - 4 * unit, y: n.y - 4 * unit, width: 8 * unit, height: 8 * unit, class: `dot-node${i ? "" : " first"}` })));
    }
    return marks;
  }

  function penMark() {
    if (tool === "choose" || !pen || document.activeElement !== svg) return null;
    const r = 11 * unit;
    return s("path", { d: `M${pen[0] - r} ${pen[1]}h${2 * r}M${pen[0]} ${pen[1] - r}v${2 * r}`, class: "pen" });
  }

  // Handles of what is chosen ----------------------------------------------------------------------------------

  function handlesOf(marks) {
    const c = work.chosen;
    if (!c) return [];
    if (c.kind === "scale" || c.kind === "centre") {
      const field = `${c.kind}_line`;
      return (marks[field] ?? []).map((p, i) => ({ key: `${field}:${i}`, at: p, says: c.kind === "scale" ? `scale line, end ${i + 1}` : `centre line, ${i ? "tail" : "nose"} end`, snap: true,
        make: (x, y) => { const fresh = copy(work.marks); fresh[field][i] = [x, y]; return fresh; } }));
    }
    if (c.kind === "view") {
      const v = work.views(marks).find((one) => one.kind === c.key);
      if (!v) return [];
      return [[0, 1, "upper left"], [2, 1, "upper right"], [2, 3, "lower right"], [0, 3, "lower left"]].map(([i, j, where]) => ({ key: `view:${c.key}:${where}`, at: [v.box[i], v.box[j]], says: `${c.key} view, ${where} corner`,
        make: (x, y) => work.withBox(c.key, (b) => { b.box[i] = x; b.box[j] = y; }) }));
    }
    const o = work.outlines(marks).find((one) => keyOf(one) === c.key);
    if (!o) return [];
    const made = (change) => () => work.withOutline(o, change(work.outlines(work.marks).find((one) => keyOf(one) === c.key).nodes));
    const handles = [];
    o.nodes.forEach((n, i) => {
      handles.push({ key: `node:${i}`, at: [n.x, n.y], node: i, outline: o, snap: true, says: `${o.name}, node ${i + 1} of ${o.nodes.length}`, make: (x, y) => made((nodes) => moveNode(nodes, i, x, y))() });
      if (c.node !== i && !(c.node === undefined)) return;
      for (const side of ["before", "after"]) if (n[side] && c.node === i) handles.push({ key: `curve:${i}:${side}`, at: n[side], node: i, from: [n.x, n.y], curve: true, says: `${o.name}, node ${i + 1}, handle ${side}`, make: (x, y, event) => made((nodes) => moveHandle(nodes, i, side, x, y, event?.shiftKey))() });
    });
    return handles;
  }

  function handleMark(each) {
    const [a, b] = each.at;
    const mark = s("g", { class: `handle${each.curve ? " curve" : ""}${each.node !== undefined && work.chosen.node === each.node && !each.curve ? " picked" : ""}`, transform: `translate(${a} ${b})`, tabindex: "0", role: "button", "aria-roledescription": "handle", "aria-label": `${each.says}. Arrow keys move it${each.node === undefined ? "" : ", Delete takes it away, Insert puts one after it"}.`, data: { handle: each.key } },
      each.from ? s("path", { d: `M0 0L${each.from[0] - a} ${each.from[1] - b}`, class: "arm" }) : null,
      s("circle", { r: reachOf() * unit, class: "touch" }),
      each.curve ? s("circle", { r: 3.6 * unit, class: "grip" }) : s("rect", { x: -4 * unit, y: -4 * unit, width: 8 * unit, height: 8 * unit, class: "grip" }));
    mark.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || !event.isPrimary) return;
      event.preventDefault();
      event.stopPropagation();
      finishKeys();
      const [x, y] = point(event);
      const far = (one) => Math.hypot(one.at[0] - x, one.at[1] - y);
      const meant = handlesOf(work.marks).sort((p, q) => far(p) - far(q))[0] ?? each; // of close ones, the nearest
      pickNode(meant.node);
      drag = { each: meant, from: [x, y], moved: false, pointer: true, marks: null };
      over.querySelector(`[data-handle="${CSS.escape(meant.key)}"]`)?.focus({ preventScroll: true });
    });
    mark.addEventListener("keydown", (event) => handleKeys(event, each));
    mark.addEventListener("focus", () => pickNode(each.node));
    mark.addEventListener("blur", () => setTimeout(() => { if (keys && document.activeElement?.dataset?.handle !== keys.each.key) finishKeys(); }, 30));
    return mark;
  }

  function pickNode(i) {
    if (i === undefined || work.chosen?.node === i) return;
    work.chosen.node = i;
    nodeTools();
    queueMicrotask(draw);
  }

  function nodeTools() {
    const c = work.chosen;
    const o = c?.kind === "outline" ? work.outlines(work.marks).find((one) => keyOf(one) === c.key) : null;
    if (!o || c.node === undefined || c.node >= o.nodes.length) { put(nodeBar); return; }
    const i = c.node;
    put(nodeBar, h("span", {}, `${o.name}, node ${i + 1} of ${o.nodes.length}`), h("span", { class: "buttons" },
      h("button", { type: "button", onclick: () => addAfter(o, i) }, "Add a node after"),
      h("button", { type: "button", disabled: o.nodes.length <= 3, onclick: () => remove(o, i) }, "Remove node"),
      h("button", { type: "button", onclick: () => commit(work.withOutline(o, curveOrCorner(o.nodes, i, !o.half)), `bend ${o.name}`) }, o.nodes[i].before || o.nodes[i].after ? "Make a corner" : "Make a curve")));
  }

  function addAfter(o, chosen) {
    const i = o.half ? Math.min(chosen, o.nodes.length - 2) : chosen; // nothing comes after the end of a half
    work.chosen.node = i + 1; commit(work.withOutline(o, withNode(o.nodes, i, 0.5, !o.half)), `add a node to ${o.name}`);
  }
  function remove(o, i) {
    if (o.nodes.length <= 3) { refuse("An outline keeps at least three nodes."); return; }
    const nodes = copy(o.nodes);
    nodes.splice(i, 1);
    work.chosen.node = Math.max(0, i - 1);
    commit(work.withOutline(o, nodes), `take a node from ${o.name}`);
  }

  function handleKeys(event, each) {
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const o = each.outline;
    if (event.key === "Escape") { keys = drag = null; draw(); } else if (o && (event.key === "Delete" || event.key === "Backspace")) remove(o, each.node);
    else if (o && event.key === "Insert") addAfter(o, each.node);
    else if (by) {
      const step = unit * (event.shiftKey ? 10 : event.altKey ? 0.1 : 1);
      if (!keys || keys.each.key !== each.key) { finishKeys(); keys = { each, at: [...each.at] }; }
      keys.at = [keys.at[0] + by[0] * step, keys.at[1] + by[1] * step];
      drag = { each, marks: each.make(...keys.at, event) };
      clearTimeout(keys.timer);
      keys.timer = setTimeout(finishKeys, 700);
      say(`${keys.at.map(Math.round).join(", ")} pixels`);
      draw();
    } else return;
    event.preventDefault();
  }

  function finishKeys() {
    if (!keys) return;
    const { each, timer } = keys;
    const marks = drag?.marks;
    clearTimeout(timer);
    keys = drag = null;
    if (marks) commit(marks, `move ${each.says.replace(/ of \d+$/, "")}`); else draw();
  }

  // The pointer ------------------------------------------------------------------------------------------------

  function point(event) {
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [p.x, p.y];
  }
  const placed = (p, event) => (snap && !event?.altKey && tool !== "box" ? toInk(grey, p, 7 * unit) : p.map((v) => Math.round(v * 10) / 10));

  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0 || !event.isPrimary) return; // a second finger draws nothing: it brings closer
    if (tool === "choose") {
      const pick = event.target.closest("[data-pick]")?.dataset.pick;
      if (pick) { const [kind, ...key] = pick.split(":"); choose({ kind, key: key.join(":") || undefined }); }
      return;
    }
    svg.focus({ preventScroll: true });
    pen = null;
    press(placed(point(event), event), event);
    pressed = true;
  });
  svg.addEventListener("dblclick", (event) => {
    const c = work.chosen;
    if (tool !== "choose" || c?.kind !== "outline" || event.target.closest(".handle")) return;
    const o = work.outlines(work.marks).find((one) => keyOf(one) === c.key);
    const found = o && nearest(o.nodes, !o.half, point(event));
    if (found && found.distance < 12 * unit) { work.chosen.node = found.i + 1; commit(work.withOutline(o, withNode(o.nodes, found.i, found.t, !o.half)), `add a node to ${o.name}`); }
  });

  function moved(event) {
    if (!event.isPrimary) return;
    if (drag?.pointer) {
      const p = point(event);
      if (!drag.moved && Math.hypot(p[0] - drag.from[0], p[1] - drag.from[1]) < 3 * unit) return;
      drag.moved = true;
      const to = [drag.each.at[0] + p[0] - drag.from[0], drag.each.at[1] + p[1] - drag.from[1]];
      drag.marks = drag.each.make(...(snap && drag.each.snap && !event.altKey ? toInk(grey, to, 5 * unit) : to), event);
      draw();
      return;
    }
    if (tool === "choose" || (!start && !(tool === "draw" && draftNow()))) return;
    end = placed(point(event), event);
    if (tool === "draw" && pressed && pulled) {
      const n = pulled.nodes[pulled.nodes.length - 1];
      const p = point(event);
      if (Math.hypot(p[0] - n.x, p[1] - n.y) > 6 * unit) { n.after = p; n.before = [2 * n.x - p[0], 2 * n.y - p[1]]; end = null; }
    }
    draw();
  }
  function ended(event) {
    if (!event.isPrimary) return;
    if (drag?.pointer) {
      const { each, marks, moved: went } = drag;
      drag = null;
      if (went && marks && event.type === "pointerup") commit(marks, `move ${each.says.replace(/ of \d+$/, "")}`); else draw();
      over.querySelector(`[data-handle="${CSS.escape(each.key)}"]`)?.focus({ preventScroll: true }); // the keys go on from here
      return;
    }
    if (!pressed) return;
    pressed = false;
    if (pulled) { const made = pulled; pulled = null; if (event.type === "pointerup") keepDraft(made); else draw(); return; }
    if (TWO_ENDS.has(tool) && start && end && Math.hypot(end[0] - start[0], end[1] - start[1]) > 8 * unit) press(end, event);
  }
  addEventListener("pointermove", moved);
  addEventListener("pointerup", ended);
  addEventListener("pointercancel", ended);

  // The pen, by pointer or keys --------------------------------------------------------------------------------

  function press(p, event) {
    if (tool === "draw") {
      const draft = copy(draftNow() ?? { ...whatToDraw(), nodes: [] });
      const first = draft.nodes[0];
      if (first && draft.nodes.length > 2 && Math.hypot(first.x - p[0], first.y - p[1]) < 10 * unit) { finishOutline(); return; }
      draft.nodes.push({ x: p[0], y: p[1] });
      say(`Node ${draft.nodes.length}`);
      if (event?.type === "pointerdown") pulled = draft; else keepDraft(draft);
    } else if (!start) { start = p; end = null; } else { const from = start; start = end = null; finishLine(from, p, event); }
    draw();
  }

  function finishOutline() {
    const draft = draftNow();
    pulled = null;
    if (!draft || draft.nodes.length < 3) { refuse("An outline needs at least three nodes."); return; }
    drew(draft);
    take("choose");
  }

  function finishLine(a, b) {
    const run = Math.hypot(b[0] - a[0], b[1] - a[1]);
    if (run < 5) { refuse("Draw this a little longer."); return; }
    const was = tool;
    if (was === "part") { split(a, b); return; }
    take("choose");
    if (was === "scale") { choose({ kind: "scale" }); commit({ ...copy(work.marks), scale_line: [a, b] }, "draw the scale line"); document.getElementById("scale-length")?.focus(); }
    if (was === "centre") { choose({ kind: "centre" }); commit({ ...copy(work.marks), centre_line: [a, b] }, "draw the centre line"); }
    if (was === "box") {
      const drawn = [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[0], b[0]), Math.max(a[1], b[1])];
      const kind = work.kindOf(drawn);
      commit(work.withBox(kind, (box) => { box.box = drawn; }), `box the ${kind} view`);
      choose({ kind: "view", key: kind });
    }
    if (was === "level") {
      let turn = Math.atan2(b[1] - a[1], b[0] - a[0]) * 180 / Math.PI;
      turn += 90 * (Math.round((work.turned() ?? 0) / 90) - Math.round(turn / 90)); // a sheet on its side stays upright
      commit({ ...copy(work.marks), turned_deg: Math.round(turn * 1000) / 1000 }, "turn the sheet level");
    }
  }

  function split(a, b) {
    const c = work.chosen;
    const o = c?.kind === "outline" ? work.outlines(work.marks).find((one) => keyOf(one) === c.key) : null;
    if (!o) { refuse("Choose the outline to split first, with Choose or in the list."); take("choose"); return; }
    const pieces = parted(o.nodes, a, b);
    if (!pieces) { refuse("Draw the line right across the outline, from outside to outside."); return; }
    take("choose");
    work.splitInto(o, pieces);
  }

  function penKeys(event) {
    if (tool === "choose" || event.target !== svg || event.ctrlKey || event.metaKey) return;
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const box = zoom.box();
    pen ??= [box.x + box.width / 2, box.y + box.height / 2];
    if (by) {
      const step = unit * (event.shiftKey ? 40 : event.altKey ? 1 : 8);
      pen = [pen[0] + by[0] * step, pen[1] + by[1] * step];
      end = start || draftNow() ? pen : null;
      say(`${pen.map(Math.round).join(", ")} pixels`);
      draw();
    } else if (event.key === "Enter" || event.key === " ") {
      const n = tool === "draw" && draftNow()?.nodes.at(-1);
      if (n && Math.hypot(n.x - pen[0], n.y - pen[1]) < 2 * unit) finishOutline(); else press(placed(pen, event), event);
    } else if (event.key === "Backspace" && tool === "draw" && draftNow()) { const draft = copy(draftNow()); draft.nodes.pop(); keepDraft(draft, `take a node of the ${draft.name} back`); } else if (event.key === "Escape") take("choose");
    else return;
    event.preventDefault();
  }

  const seen = new ResizeObserver(() => requestAnimationFrame(draw));
  seen.observe(svg);
  take("choose");
  return {
    node, show, draw: () => { nodeTools(); draw(); }, take, point: (p) => { const at = new DOMPoint(...p).matrixTransform(svg.getScreenCTM()); return [at.x, at.y]; },
    drawing: () => tool === "draw", finish: finishOutline,
    retold: () => { const draft = work.marks?.draft; if (draft) keepDraft({ ...copy(draft), ...whatToDraw() }, `the unfinished outline is the ${whatToDraw().name}`); },
    close() { finishKeys(); zoom.close(); seen.disconnect(); removeEventListener("pointermove", moved); removeEventListener("pointerup", ended); removeEventListener("pointercancel", ended); },
  };
}
