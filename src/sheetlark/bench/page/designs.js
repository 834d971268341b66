// Several designs open at once: a strip to go between them. Each keeps its own undo (in its journal), and here what was
// chosen in it, how close its views were, what was typed and not yet kept, and what long work found.

import { h, put } from "./dom.js";
import { ask, hear } from "./line.js";
import { state, changed, watch } from "./state.js";

let open = [];
let stand = new Map();
const plain = (name) => name.replace(/\.toml$/, "");
const shelf = () => `open ${state.folder}`;

hear("desks", (m) => { stand = new Map(m.desks.map((one) => [one.name, one])); changed("open"); });

// Which were open when this folder was last looked at.
export function remembered() {
  let kept = [];
  try { kept = JSON.parse(localStorage.getItem(shelf()) ?? "[]"); } catch { /* something else wrote there */ }
  open = kept.filter((name) => state.designs.includes(name));
  return open;
}

function keep() {
  localStorage.setItem(shelf(), JSON.stringify(open));
  changed("open");
}

export function add(name) {
  localStorage.setItem(`last ${state.folder}`, name);
  if (!open.includes(name)) { open.push(name); keep(); } else changed("open");
}
export const last = () => localStorage.getItem(`last ${state.folder}`);

// What belongs to a design and is found again when it is shown again: a drawer for each.
const drawers = new Map();
export function drawer(name = state.name) {
  if (!drawers.has(name)) drawers.set(name, new Map());
  return drawers.get(name);
}

export function openDesigns({ enter, choose, none }) {
  const list = h("ul", {});
  const node = h("nav", { class: "cell open-designs", "aria-label": "Open designs" }, list, h("button", { type: "button", id: "open-more", "aria-haspopup": "dialog", onclick: choose }, "Open …"));

  async function shut(name) {
    const at = open.indexOf(name);
    open = open.filter((one) => one !== name);
    drawers.delete(name);
    keep();
    if (name === state.name) {
      const next = open[Math.min(at, open.length - 1)];
      if (next) await enter(next); else none();
    }
    ask({ do: "shut", name }).catch(() => {});
    (list.querySelector("[aria-current]") ?? document.getElementById("open-more"))?.focus();
  }

  function mark(name) {
    const how = stand.get(name);
    if (how?.unsaved) return h("span", { class: "stands" }, "not saved");
    if (how?.fault) return h("span", { class: "stands" }, "has a fault");
    return null;
  }

  function draw() {
    const had = document.activeElement?.dataset?.design;
    put(list, open.map((name) => h("li", { class: name === state.name ? "current" : undefined },
      h("button", { type: "button", class: "design", "aria-current": name === state.name ? "true" : undefined, data: { design: name }, onclick: () => { if (name !== state.name) enter(name); } }, plain(name), mark(name)),
      h("button", { type: "button", class: "shut", "aria-label": `Close ${plain(name)}`, title: `Close ${plain(name)}; its file and its undo stay`, onclick: () => shut(name) }, "×"))));
    if (had) list.querySelector(`[data-design="${CSS.escape(had)}"]`)?.focus({ preventScroll: true });
    list.querySelector(".current")?.scrollIntoView({ block: "nearest", inline: "nearest" });
  }
  // The arrows go along the strip, as they do in a row of tools.
  list.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const all = [...list.querySelectorAll("button")];
    const at = all.indexOf(document.activeElement);
    if (!by || at < 0) return;
    event.preventDefault();
    all[(at + by + all.length) % all.length].focus();
  });
  watch("open", draw);
  draw();
  return node;
}

// The other designs of the folder, to open.
export function shelfOf(enter) {
  const others = state.designs.filter((name) => !open.includes(name));
  if (!others.length) return h("p", { class: "quiet" }, state.designs.length ? "Every design of this folder is open." : "This folder has no design yet.");
  return h("ul", { class: "shelf" }, others.map((name) => h("li", {}, h("button", { type: "button", onclick: () => enter(name) }, plain(name)))));
}
