// What the page knows: the design as the bench last told it, and what a finger is dragging on top of it.

import { ask, hear } from "./line.js";
import { say } from "./dom.js";
import { isImperial, setImperial } from "./units.js";

export const state = {
  designs: [], starters: [], controls: [], shelves: {}, rooms: [], folder: "", pictures: [],
  name: null, revision: 0, room: "shape",
  values: null, scene: null, faults: [], notice: "", undo: "", redo: "", labels: [],
  figures: [], before: [], findings: [], findingsBefore: false, balance: {}, neutral: null, layout: "",
  model: null, plates: null, stale: true,
  selected: null, dragging: false, up: true, refusal: null,
};

const watchers = new Map();
export function watch(topic, watcher) {
  if (!watchers.has(topic)) watchers.set(topic, new Set());
  watchers.get(topic).add(watcher);
  return () => watchers.get(topic).delete(watcher);
}
export function changed(topic, detail) {
  for (const watcher of [...(watchers.get(topic) ?? [])]) watcher(detail);
}

export const meshes = new Map();
const lastNames = new Map();
// Both ends keep just the meshes of the last message of each kind, so that neither grows.
function takeMeshes(kind, message) {
  for (const [name, text] of Object.entries(message.meshes ?? {})) meshes.set(name, JSON.parse(text));
  lastNames.set(kind, new Set((message.model ?? message.plates).parts.map((part) => part.mesh)));
  for (const name of meshes.keys()) if (![...lastNames.values()].some((names) => names.has(name))) meshes.delete(name);
}

let settled = null;
let settledFigures = null;

hear("welcome", (m) => {
  Object.assign(state, { designs: m.designs, starters: m.starters, controls: m.controls, shelves: m.shelves, rooms: m.rooms, folder: m.folder, pictures: m.pictures });
  meshes.clear();
  lastNames.clear();
  changed("welcome", m);
});
hear("designs", (m) => { state.designs = m.designs; changed("designs"); });

hear("document", (m) => {
  if (m.name !== state.name) {
    // Nothing of the one before stays: this one may be a file that cannot be read.
    Object.assign(state, { values: null, scene: null, dragging: false, figures: [], before: [], findings: [], model: null, plates: null, selected: null });
    settledFigures = null;
    if (m.values) setImperial(readUnits(m));
  }
  const fresh = {
    name: m.name, revision: m.revision, undo: m.undo, redo: m.redo, steps: m.steps, notice: m.notice,
    labels: m.labels, faults: m.faults, stale: true,
  };
  settled = { values: m.values, scene: m.scene };
  Object.assign(state, fresh);
  if (!state.dragging) {
    if (m.values) state.values = m.values;
    if (m.scene) state.scene = m.scene;
  }
  changed("document");
  changed("scene");
});

hear("preview", (m) => {
  takeMeshes("plates", m);
  if (m.name !== state.name || m.ticket !== ticket || !state.dragging) return;
  state.values = m.values;
  state.scene = m.scene;
  state.plates = m.plates;
  changed("scene");
  changed("model");
});

hear("figures", (m) => {
  takeMeshes(m.ticket === null ? "settled" : "preview", m);
  if (m.name !== state.name) return;
  if (m.ticket !== null && (!state.dragging || m.ticket < shown)) return;
  if (m.ticket === null && m.revision < state.revision) return;
  if (m.ticket !== null) shown = m.ticket;
  Object.assign(state, {
    figures: m.figures, findings: m.findings ?? state.findings, balance: m.balance, neutral: m.neutral, layout: m.layout,
    findingsBefore: m.findings === null, model: m.model, stale: m.ticket !== null && m.ticket !== ticket, took: m.ms, advised: m.advised,
  });
  if (m.ticket === null) { state.before = m.before; settledFigures = { figures: m.figures, findings: m.findings ?? state.findings, balance: m.balance, neutral: m.neutral, model: m.model }; }
  if (m.ticket === null || m.ticket === ticket) state.plates = null;
  if (!state.stale) document.body.dataset.shown = String(m.ticket ?? `r${m.revision}`);
  changed("figures", m);
  changed("model");
});

hear("advice", (m) => {
  if (m.name !== state.name || m.revision !== state.revision) return;
  state.findings = m.findings;
  state.advised = true;
  if (settledFigures) settledFigures.findings = m.findings;
  changed("figures");
});

hear("trouble", (m) => {
  if (m.name !== state.name) return;
  state.faults = m.faults;
  state.stale = false;
  changed("document");
});

hear("refused", (m) => {
  if (m.name !== state.name || m.ticket !== ticket) return;
  state.refusal = m.says;
  changed("refusal");
});

// Changes --------------------------------------------------------------------------------------------------

let ticket = 0;
let shown = 0;
let sent = false;
let pending = null;

// Show what would be, at most one request on its way; the newest wins.
export function preview(changes) {
  state.dragging = true;
  pending = changes;
  if (!sent) send();
}

async function send() {
  if (!pending || !state.dragging) return;
  const changes = pending;
  pending = null;
  sent = true;
  ticket += 1;
  document.body.dataset.asked = String(ticket);
  state.stale = true;
  try {
    await ask({ do: "preview", name: state.name, changes, since: state.revision, ticket, imperial: isImperial() });
    if (state.refusal) { state.refusal = null; changed("refusal"); }
  } catch (error) {
    state.refusal = error.says;
    changed("refusal");
  }
  sent = false;
  if (pending) send();
}

export async function commit(changes, label) {
  pending = null;
  state.dragging = false;
  ticket += 1;
  try {
    await ask({ do: "edit", name: state.name, changes, label, since: state.revision, imperial: isImperial() });
    state.refusal = null;
    changed("refusal");
    return null;
  } catch (error) {
    back();
    state.refusal = error.says;
    changed("refusal", error);
    return error;
  }
}

// Let go without a change.
export function back() {
  pending = null;
  state.dragging = false;
  ticket += 1;
  if (settled?.values) state.values = settled.values;
  if (settled?.scene) state.scene = settled.scene;
  if (settledFigures) Object.assign(state, settledFigures, { stale: false, findingsBefore: false });
  state.plates = null;
  state.refusal = null;
  changed("scene");
  changed("figures");
  changed("model");
  changed("refusal");
}

export async function plainly(request, good) {
  try {
    await ask({ name: state.name, ...request });
    state.refusal = null;
    changed("refusal");
    if (good) say(good);
    return true;
  } catch (error) {
    state.refusal = error.says;
    changed("refusal", error);
    return false;
  }
}

export function select(where) {
  state.selected = where;
  changed("selected");
}

function readUnits(m) {
  const kept = localStorage.getItem("units");
  return (kept ?? m.values.model.units) === "imperial";
}
