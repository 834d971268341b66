// The drawing board: three linked views drawn to one scale, with handles to drag.

import { h, s, put, held, say } from "./dom.js";
import { mm, isImperial } from "./units.js";
import { state, watch, preview, commit, back, select, changed } from "./state.js";
import { VIEWS, begins, key, tidy } from "./places.js";
import { curveOrCorner, halfway, handlesOf, pathOf } from "./handles.js";
import { drawer } from "./designs.js";
import { zoomable, zoomButtons } from "./zoom.js";
import { axis, balanceMarks, bodyMarks, gridLines, itemMarks, strutMarks, surfaceMarks } from "./marks.js";

const MARGIN = 26;
export const reachOf = () => (matchMedia("(pointer: coarse)").matches ? 22 : 13); // pixels round a handle: a finger is wider than a mouse
let snapStep = Number(localStorage.getItem("snap") ?? "1");
export function setSnap(step) { snapStep = step; localStorage.setItem("snap", String(step)); }

function snapped(value, event) {
  if (event?.altKey || snapStep === 0) return tidy(value);
  const step = isImperial() ? snapStep * 1.5875 : snapStep; // sixteenths of an inch
  return tidy(Math.round(value / step) * step);
}

// Room that the drawing takes -------------------------------------------------------------------------------

function reach(scene) {
  const box = { x: [Infinity, -Infinity], y: 0, z: [Infinity, -Infinity] };
  const take = ([x, y, z]) => {
    box.x = [Math.min(box.x[0], x), Math.max(box.x[1], x)];
    box.z = [Math.min(box.z[0], z), Math.max(box.z[1], z)];
    box.y = Math.max(box.y, Math.abs(y));
  };
  for (const surface of scene.surfaces) surface.line.forEach(take);
  if (scene.body) scene.body.profile.forEach(([x, z]) => take([x, 20, z]));
  for (const item of scene.items) {
    const half = item.disc ? item.disc / 2 : 0;
    take([item.at[0] - item.size[0] / 2, item.at[1], item.at[2] - Math.max(half, item.size[2] / 2)]);
    take([item.at[0] + item.size[0] / 2, item.at[1], item.at[2] + Math.max(half, item.size[2] / 2)]);
  }
  return box;
}

function frame(view, box) {
  if (view === "top") return [box.x[0], -box.y, box.x[1] - box.x[0], 2 * box.y];
  if (view === "side") return [box.x[0], -box.z[1], box.x[1] - box.x[0], box.z[1] - box.z[0]];
  return [-box.y, -box.z[1], 2 * box.y, box.z[1] - box.z[0]];
}

// The drawing board ----------------------------------------------------------------------------------------

export function drawingBoard() {
  let only = localStorage.getItem("view") ?? "all";
  let picked = null;
  let drag = null;
  let keys = null;
  let wide = 0; // measured when the room changes size; asking on every move would make the browser lay out anew
  const balances = {};
  const svgs = {};
  const whole = {}; // what shows all of a view; `rooms` is what is shown of it now
  const rooms = {};
  const zooms = {};
  const figures = {};
  for (const view of Object.keys(VIEWS)) {
    svgs[view] = s("svg", { class: "view", tabindex: "0", role: "group", "aria-label": `${VIEWS[view].title} view`, "aria-description": "Plus and minus draw it closer and further, the arrows move it, nought shows all.", data: { view } });
    zooms[view] = zoomable(svgs[view], { fitted: () => whole[view], redraw: () => draw(), takes: (event) => !event.target.closest(".handle, .item"), interrupt: () => { if (drag) { drag = null; back(); } } });
    figures[view] = h("figure", { class: `sheet ${view}` }, svgs[view], h("figcaption", {}, VIEWS[view].title));
  }
  const mine = drawer();
  for (const view of Object.keys(zooms)) zooms[view].found(mine.get("near")?.[view]);
  const third = h("figure", { class: "sheet third" });
  const grid = h("div", { class: "views" }, figures.top, third, figures.side, figures.front); // one sheet, all views in their places
  const exact = h("div", { class: "exact", role: "group", "aria-label": "Exact place" });
  const refusal = h("p", { class: "refusal", role: "alert" });
  let fillSnap = () => {};
  const bar = toolbar();
  const board = h("section", { class: "board", "aria-label": "Drawing board" }, bar, grid, refusal, exact);

  function toolbar() {
    const views = h("div", { class: "choice", role: "group", "aria-label": "Which view" });
    for (const [id, title] of [["all", "All"], ["top", "Top"], ["side", "Side"], ["front", "Front"], ["third", "3-D"]]) {
      views.append(h("button", { type: "button", "aria-pressed": String(only === id), data: { id }, onclick: () => {
        only = id;
        localStorage.setItem("view", id);
        for (const b of views.children) b.setAttribute("aria-pressed", String(b.dataset.id === id));
        draw();
      } }, title));
    }
    const snap = h("select", { "aria-label": "Snap", onchange: () => setSnap(Number(snap.value)) });
    const steps = [["0", "no snap", "no snap"], ["0.5", "snap 0.5 mm", "snap 1/32 in"], ["1", "snap 1 mm", "snap 1/16 in"], ["4", "snap 4 mm", "snap 1/4 in"], ["8", "snap 8 mm", "snap 1/2 in"]];
    fillSnap = () => put(snap, steps.map(([value, metric, inches]) => h("option", { value, selected: Number(value) === snapStep }, isImperial() ? inches : metric)));
    fillSnap();
    return h("div", { class: "tools" }, views, zoomButtons(() => Object.keys(VIEWS).filter((view) => whole[view] && !figures[view].hidden).map((view) => zooms[view])), snap, h("span", { class: "reading quiet" }));
  }

  function sizes(box) {
    const [L, S, Z] = [box.x[1] - box.x[0] + 2 * MARGIN, 2 * box.y + 2 * MARGIN, box.z[1] - box.z[0] + 2 * MARGIN];
    if (!wide) wide = Math.max(240, grid.clientWidth || 640);
    const width = wide;
    const narrow = width < 560;
    let scale;
    if (only === "third") scale = width / (L + S);
    else if (only !== "all") {
      const [w, t] = { top: [L, S], side: [L, Z], front: [S, Z] }[only];
      scale = Math.min(width / w, Math.max(260, innerHeight - 330) / t);
    } else if (narrow) scale = width / Math.max(L, S);
    else scale = Math.min(width / (L + S), Math.max(380, innerHeight - 260) / (S + Z));
    return { L, S, Z, scale, narrow, width };
  }

  function draw() {
    const { scene, values } = state;
    if (!scene || !values) return;
    const box = reach(scene);
    const size = sizes(box);
    grid.dataset.only = only;
    grid.classList.toggle("narrow", size.narrow);
    const handles = handlesOf(scene, values);
    const had = drag ? null : document.activeElement?.dataset?.handle;
    const hadView = document.activeElement?.closest?.("svg")?.dataset?.view;
    let refocus = null;
    for (const view of Object.keys(VIEWS)) {
      const shownHere = only === "all" || only === view;
      figures[view].hidden = !shownHere;
      if (!shownHere) continue;
      const [x, y, w, t] = frame(view, box);
      const svg = svgs[view];
      const room = [x - MARGIN, y - MARGIN, w + 2 * MARGIN, t + 2 * MARGIN];
      // While a finger drags, the paper stays still under it.
      if (!drag || !rooms[view]) {
        whole[view] = { x: room[0], y: room[1], width: room[2], height: room[3], scale: size.scale };
        svg.style.width = `${room[2] * size.scale}px`;
        svg.style.height = `${room[3] * size.scale}px`;
      }
      const near = zooms[view].box();
      rooms[view] = { ...near, scale: whole[view].scale * near.k };
      svg.setAttribute("viewBox", `${near.x} ${near.y} ${near.width} ${near.height}`);
      const held = rooms[view];
      const unit = 1 / held.scale;
      held.unit = unit;
      balances[view] = s("g", {});
      put(balances[view], balanceMarks(view, scene, unit));
      put(svg, gridLines(held, unit),
        axis(view, held),
        ...(view === "top" ? [...scene.surfaces.slice().sort((p, q) => p.at[2] - q.at[2]).flatMap((surface) => surfaceMarks(view, surface)), ...(scene.body ? bodyMarks(view, scene.body) : [])]
          : [...(scene.body ? bodyMarks(view, scene.body) : []), ...scene.surfaces.flatMap((surface) => surfaceMarks(view, surface))]),
        ...scene.struts.flatMap((strut) => strutMarks(view, strut)),
        ...scene.items.flatMap((item) => itemMarks(view, item)),
        balances[view],
        ...handles.filter((each) => each.views.includes(view)).flatMap((each) => {
          const mark = handleMark(view, each, unit);
          if (each.key === had && view === hadView) refocus = mark;
          return [mark];
        }));
    }
    if (drag) { reading(); return; }
    third.hidden = !(only === "all" || only === "third");
    if (only === "third") { third.style.width = `${size.width}px`; third.style.height = `${Math.max(320, innerHeight - 300)}px`; }
    else if (size.narrow) { third.style.width = `${size.width}px`; third.style.height = `${size.width * 0.72}px`; }
    else { third.style.width = `${Math.max(160, size.width - size.L * size.scale)}px`; third.style.height = `${size.S * size.scale}px`; }
    if (!size.narrow && only === "all") grid.style.gridTemplateColumns = `${size.L * size.scale}px 1fr`;
    else grid.style.gridTemplateColumns = "1fr";
    if (refocus && document.activeElement !== refocus) refocus.focus({ preventScroll: true });
    reading();
    drawExact(handles);
    changed("drawn");
  }

  function reading() {
    if (!drag) bar.querySelector(".reading").textContent = state.stale ? "working out …" : "";
  }

  function handleMark(view, each, unit) {
    const [a, b] = VIEWS[view].flat(each.at);
    const curve = each.says.includes("handle");
    const pack = each.where[1] === "pack_at";
    const words = `${each.says}: ${placeWords(each.at, view)}`;
    const mark = s("g", {
      class: `handle${curve ? " curve" : ""}${pack ? " pack" : ""}${picked === each.key ? " picked" : ""}`, transform: `translate(${a} ${b})`, tabindex: "0",
      role: "button", "aria-roledescription": "handle", "aria-label": `${words}. Arrow keys move it.`, data: { handle: each.key },
    }, each.from ? s("path", { d: `M0 0L${VIEWS[view].flat(each.from).map((v, i) => v - [a, b][i]).join(" ")}`, class: "arm" }) : null,
    s("circle", { r: reachOf() * unit, class: "touch" }),
    curve ? s("circle", { r: 3.6 * unit, class: "grip" }) : s("rect", { x: -4.5 * unit, y: -4.5 * unit, width: 9 * unit, height: 9 * unit, class: "grip" }));
    mark.addEventListener("pointerdown", (event) => begin(event, view, nearest(view, pointAt(svgs[view], event)) ?? each));
    mark.addEventListener("keydown", (event) => arrow(event, view, each));
    mark.addEventListener("focus", () => { if (picked !== each.key) { picked = each.key; drawExact(handlesOf(state.scene, state.values)); } });
    // Redrawing takes the handle away and gives it back; only a person's leaving it ends the move.
    mark.addEventListener("blur", () => setTimeout(() => { if (keys && document.activeElement?.dataset?.handle !== keys.key) finishKeys(); }, 30));
    return mark;
  }

  const placeWords = (at, view) => (view === "top" ? `x ${mm(at[0])}, y ${mm(at[1])}` : view === "side" ? `x ${mm(at[0])}, z ${mm(at[2])}` : `y ${mm(at[1])}, z ${mm(at[2])}`);

  // Dragging
  function pointAt(svg, event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [at.x, at.y];
  }

  // Of handles that lie close together, the one nearest to the finger is meant.
  function nearest(view, [a, b]) {
    const far = (each) => { const [u, v] = VIEWS[view].flat(each.at); return Math.hypot(u - a, v - b); };
    return handlesOf(state.scene, state.values).filter((each) => each.views.includes(view)).sort((p, q) => far(p) - far(q))[0];
  }

  function begin(event, view, each) {
    if (event.button !== 0 || !event.isPrimary) return; // a second finger moves nothing: it brings closer
    event.preventDefault();
    event.stopPropagation();
    const svg = svgs[view];
    const start = pointAt(svg, event);
    const from = VIEWS[view].flat(each.at);
    picked = each.key;
    drag = { view, each, start, from, svg, scale: rooms[view].scale, changes: null, moved: false };
    svgs[view].querySelector(`[data-handle="${CSS.escape(each.key)}"]`)?.focus({ preventScroll: true });
  }

  function moved(event) {
    if (!drag || !event.isPrimary) return;
    const [a, b] = pointAt(drag.svg, event);
    const [da, db] = [a - drag.start[0], b - drag.start[1]];
    if (!drag.moved && Math.hypot(da, db) * drag.scale < 3) return;
    drag.moved = true;
    const p = VIEWS[drag.view].lift(drag.from[0] + da, drag.from[1] + db);
    for (const axisName of Object.keys(p)) p[axisName] = snapped(p[axisName], event);
    drag.changes = drag.each.make(p, event);
    preview(drag.changes);
    const bits = Object.entries(p).map(([name, value]) => `${name} ${mm(value)}`);
    bar.querySelector(".reading").textContent = bits.join("   ");
  }

  function ended(event) {
    if (!drag || !event.isPrimary) return;
    const { changes, moved: went, each, view } = drag;
    drag = null;
    if (went && state.refusal) { const words = state.refusal; back(); state.refusal = words; changed("refusal"); say(words); }
    else if (went && changes && event.type === "pointerup") commit(changes, `move ${each.says.replace(/:.*/, "")}`);
    else if (went) back();
    draw();
    document.querySelector(`svg[data-view="${view}"] [data-handle="${CSS.escape(each.key)}"]`)?.focus({ preventScroll: true });
  }

  // Arrow keys
  function arrow(event, view, each) {
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.key === "Escape") { keys = null; back(); return; }
    if (event.key === "Enter") { exact.querySelector("input")?.focus(); event.preventDefault(); return; }
    if (!by) return;
    event.preventDefault();
    const step = (event.shiftKey ? 10 : event.altKey ? 0.1 : 1) * (isImperial() ? 0.79375 : 1);
    if (!keys || keys.key !== each.key) { finishKeys(); keys = { key: each.key, each, view, at: VIEWS[view].flat(each.at) }; }
    keys.at = [keys.at[0] + by[0] * step, keys.at[1] + by[1] * step];
    const p = VIEWS[view].lift(...keys.at);
    for (const name of Object.keys(p)) p[name] = tidy(p[name]);
    keys.changes = keys.each.make(p, event);
    preview(keys.changes);
    clearTimeout(keys.timer);
    keys.timer = setTimeout(finishKeys, 700);
    say(Object.entries(p).map(([name, value]) => `${name} ${mm(value)}`).join(", "));
  }

  function finishKeys() {
    if (!keys?.changes) { keys = null; return; }
    const { changes, each, timer } = keys;
    clearTimeout(timer);
    keys = null;
    commit(changes, `move ${each.says.replace(/:.*/, "")}`);
  }

  // Exact entry
  let exactKey = null;
  function drawExact(handles) {
    const each = handles.find((one) => one.key === picked);
    if (!each) { exactKey = null; put(exact, chosenActions()); return; }
    if (exact.contains(document.activeElement) && document.activeElement.tagName === "INPUT" && exactKey === each.key) return;
    exactKey = each.key;
    const view = each.views[0];
    const axes = view === "top" ? [0, 1] : view === "side" ? [0, 2] : [1, 2];
    const names = ["x", "y", "z"];
    const inputs = axes.map((i) => h("input", {
      type: "text", inputmode: "decimal", size: "7", "aria-label": `${each.says}, ${names[i]}`,
      value: isImperial() ? (each.at[i] / 25.4).toFixed(3) : String(Math.round(each.at[i] * 100) / 100),
      onchange: () => {
        const p = {};
        axes.forEach((j, n) => { p[names[j]] = Number(inputs[n].value.replace(",", ".").replace("−", "-")) * (isImperial() ? 25.4 : 1); });
        if (Object.values(p).some((value) => !Number.isFinite(value))) { state.refusal = "Write a plain number here, such as 120."; changed("refusal"); return; }
        commit(each.make(p, { shiftKey: true }), `place ${each.says.replace(/:.*/, "")}`);
      },
    }));
    put(exact, h("span", {}, each.says.replace(/:.*/, "")), ...axes.map((i, n) => h("label", {}, names[i], inputs[n], h("span", { class: "unit" }, isImperial() ? "in" : "mm"))), nodeTools(each), chosenActions());
  }

  function nodeTools(each) {
    const match = each.says.match(/, node (\d+)$/);
    if (!match) return null;
    const i = Number(match[1]) - 1;
    const body = each.where[0] === "body";
    const source = body ? state.scene.body.nodes : state.scene.surfaces.find((one) => key(one.where) === key(each.where)).nodes;
    const where = body ? ["body", "profile"] : [...each.where, "outline"];
    const write = (nodes, label) => commit([[where, pathOf(nodes, body)]], label);
    const copy = () => source.map((n) => ({ ...n }));
    const after = source[i + 1] ?? (body ? source[0] : null);
    return h("span", { class: "buttons" },
      after && h("button", { type: "button", onclick: () => { const n = copy(); n.splice(i + 1, 0, halfway(source[i], after, n, i, body)); write(n, "add a node"); } }, "Add a node after"),
      (body || (i > 0 && i < source.length - 1)) && source.length > 3 && h("button", { type: "button", onclick: () => { const n = copy(); n.splice(i, 1); picked = null; write(n, "remove a node"); } }, "Remove node"),
      h("button", { type: "button", onclick: () => { const n = copy(); curveOrCorner(n, i, body); write(n, source[i].in || source[i].out ? "make a corner" : "make a curve"); } }, source[i].in || source[i].out ? "Make a corner" : "Make a curve"));
  }

  function chosenActions() {
    const chosen = state.selected;
    const surface = chosen && state.scene?.surfaces.find((one) => begins(chosen, one.where));
    const stated = surface && held(state.values, surface.where);
    if (!stated || stated.outline) return null;
    const height = surface.role === "fin" ? "height" : "span";
    const gone = [height, "root_chord", "tip_chord", "sweep", "tip_roundness"];
    const written = gone.filter((name) => !(name === "tip_chord" && stated.tip_chord === null));
    return h("button", { type: "button", title: "Its outline then has nodes and handles to drag", onclick: () => commit(
      [...written.map((name) => [[...surface.where, name], null]), [[...surface.where, "outline"], pathOf(surface.nodes, false)]],
      `make ${surface.name} a free outline`) }, `Free the outline of ${surface.name}`);
  }

  board.addEventListener("pointerdown", (event) => {
    const mark = event.target.closest("[data-where]");
    if (!mark || event.target.closest(".handle") || (event.pointerType === "touch" && !event.isPrimary)) return;
    const where = mark.dataset.where.split("/").map((part) => (/^\d+$/.test(part) ? Number(part) : part));
    select(where);
    if (where.length > 1 && mark.classList.contains("item")) {
      const view = mark.closest("svg").dataset.view;
      const each = handlesOf(state.scene, state.values).find((one) => key(one.where) === key(where) && one.views.includes(view));
      if (each) { draw(); const grip = svgs[view].querySelector(`[data-handle="${CSS.escape(each.key)}"]`); if (grip) begin({ button: 0, isPrimary: event.isPrimary, preventDefault() {}, stopPropagation() {}, clientX: event.clientX, clientY: event.clientY, target: grip }, view, each); }
    }
  });
  addEventListener("pointermove", moved);
  addEventListener("pointerup", ended);
  addEventListener("pointercancel", ended);
  addEventListener("keydown", (event) => { if (event.key === "Escape" && drag) { drag = null; back(); } });

  const offs = [
    watch("scene", draw), watch("selected", () => { picked = null; draw(); }), watch("units", () => { fillSnap(); draw(); }),
    watch("figures", () => {
      for (const view of Object.keys(balances)) if (state.scene) put(balances[view], balanceMarks(view, state.scene, rooms[view].unit));
      if (!drag) reading();
    }),
    watch("refusal", () => { refusal.textContent = state.refusal ?? ""; }),
  ];
  const seen = new ResizeObserver(() => requestAnimationFrame(() => { const now = Math.max(240, grid.clientWidth || 640); if (now !== wide) { wide = now; if (!drag) draw(); } }));
  seen.observe(grid);
  return {
    node: board, third, draw,
    close() { mine.set("near", Object.fromEntries(Object.entries(zooms).map(([view, zoom]) => [view, zoom.keep()]))); finishKeys(); offs.forEach((off) => off()); seen.disconnect(); Object.values(zooms).forEach((one) => one.close()); removeEventListener("pointermove", moved); removeEventListener("pointerup", ended); removeEventListener("pointercancel", ended); },
  };
}
