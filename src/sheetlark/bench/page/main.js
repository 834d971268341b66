// The bench's page: title block, rooms in the order of the work, the panel beside them.

import { h, put, say } from "./dom.js";
import { ask, hear, open as openLine } from "./line.js";
import { state, watch, changed, plainly } from "./state.js";
import { isImperial, setImperial } from "./units.js";
import { panel } from "./panel.js";
import { shapeRoom } from "./rooms/shape.js";
import { weightsRoom } from "./rooms/weights.js";
import { partsRoom } from "./rooms/parts.js";
import { plansRoom } from "./rooms/plans.js";
import { driveRoom } from "./rooms/drive.js";
import { airRoom } from "./rooms/air.js";
import { strengthRoom } from "./rooms/strength.js";
import { flightRoom } from "./rooms/flight.js";
import { pictureRoom } from "./rooms/picture.js";
import { compareRoom } from "./rooms/compare.js";
import { buildRoom } from "./rooms/build.js";
import { logRoom } from "./rooms/log.js";

const MAKERS = { picture: pictureRoom, shape: shapeRoom, weights: weightsRoom, drive: driveRoom, air: airRoom, strength: strengthRoom, flight: flightRoom, parts: partsRoom, plans: plansRoom, build: buildRoom, log: logRoom, compare: compareRoom };
const head = document.getElementById("head");
const nav = document.getElementById("rooms");
const room = document.getElementById("room");
const notice = document.getElementById("notice");
let current = null;

// Look: light, dark, or as the machine says.
const looks = ["auto", "light", "dark"];
let look = localStorage.getItem("look") ?? "auto";
function wear() {
  if (look === "auto") delete document.documentElement.dataset.look;
  else document.documentElement.dataset.look = look;
  changed("look");
}
wear();

function header() {
  const picker = h("select", { id: "pick", "aria-label": "Design", onchange: () => { if (picker.value) enter(picker.value); } },
    state.name ? null : h("option", { value: "" }, "choose a design"),
    state.designs.map((name) => h("option", { value: name, selected: name === state.name }, name.replace(/\.toml$/, ""))));
  put(head,
    h("div", { class: "cell brand" }, h("img", { src: "/page/mark.svg", alt: "", width: "22", height: "22" }), h("h1", {}, "Sheetlark")),
    h("div", { class: "cell design" }, h("label", { for: "pick", class: "lettered" }, "Design"), picker),
    h("div", { class: "cell" }, h("button", { type: "button", onclick: newDesign }, "New …")),
    h("div", { class: "cell undo" }, stepper("undo", "Undo", "↶", undo), stepper("redo", "Redo", "↷", redo)),
    h("div", { class: "cell switches" },
      h("button", { type: "button", id: "units", "aria-label": `Units: ${isImperial() ? "inches and ounces" : "millimetres and grams"}. Switch.`, onclick: () => { setImperial(!isImperial()); localStorage.setItem("units", isImperial() ? "imperial" : "metric"); header(); changed("units"); } }, isImperial() ? "in · oz" : "mm · g"),
      h("button", { type: "button", id: "look", "aria-label": `Look: ${look}. Switch.`, onclick: () => { look = looks[(looks.indexOf(look) + 1) % 3]; localStorage.setItem("look", look); wear(); header(); } }, { auto: "◐", light: "○", dark: "●" }[look])));
}

// A room with a history of its own, such as a picture's, is what undo and redo mean while it is shown.
function stepper(id, title, mark, work) {
  const words = current?.history ? current.history.labels()[id === "undo" ? 0 : 1] : state[id];
  return h("button", { type: "button", id, disabled: !words, title: words ? `${title}: ${words}` : `Nothing to ${id}`, "aria-label": words ? `${title} ${words}` : title, onclick: work }, mark, h("span", { class: "wide-only" }, ` ${title}`));
}
const undo = () => { if (current?.history) { current.history.undo(); return; } const words = state.undo; if (words) plainly({ do: "undo" }, `Took back: ${words}`); };
const redo = () => { if (current?.history) { current.history.redo(); return; } const words = state.redo; if (words) plainly({ do: "redo" }, `Did again: ${words}`); };

addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const typing = event.target.closest?.("input[type=text], textarea");
  if (typing && typing.dataset.touched) return;
  if (event.key === "z" && !event.shiftKey) { event.preventDefault(); undo(); }
  if (event.key === "y" || (event.key === "Z" || event.key === "z") && event.shiftKey) { event.preventDefault(); redo(); }
});

function navigation() {
  put(nav, h("ol", {}, state.rooms.map((each, i) => h("li", {}, h("a", {
    href: `#${each.id}`, title: each.says, "aria-current": each.id === state.room ? "page" : undefined,
  }, h("span", { class: "no", "aria-hidden": "true" }, String(i + 1)), each.title)))));
}

function show() {
  const wanted = location.hash.slice(1) || "shape";
  const known = state.rooms.some((each) => each.id === wanted);
  state.room = known ? wanted : state.rooms[0]?.id ?? "shape";
  navigation();
  current?.close?.();
  current = null;
  nav.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  const title = state.rooms.find((each) => each.id === state.room)?.title ?? "";
  room.setAttribute("aria-label", title);
  document.title = `${title} · ${state.name ?? ""} · Sheetlark`.replace(" ·  ·", " ·");
  if (!state.name && state.room !== "picture") { put(room, welcome()); return; }
  try {
    current = MAKERS[state.room]();
    put(room, current.node);
    current.shown?.();
    header();
  } catch (error) {
    console.error(error);
    put(room, h("p", { class: "refusal" }, `This room could not be drawn (${error.message}). The others work; load the page again to try once more.`));
  }
}

function welcome() {
  return h("section", { class: "welcome" }, h("h2", {}, "Begin"),
    h("p", {}, "Choose a design of this folder above, or begin a new one."), newForm(() => {}));
}

function newForm(close) {
  const name = h("input", { type: "text", id: "new-name", autocomplete: "off", maxlength: "60", required: true });
  const like = h("select", { id: "new-like" }, state.starters.map((one) => h("option", { value: one }, `${one} (a starter)`)), state.designs.map((one) => h("option", { value: one }, one)));
  const fault = h("p", { class: "refusal", role: "alert" });
  const file = h("input", { type: "file", id: "new-file", accept: ".toml", onchange: async () => {
    if (!file.files[0]) return;
    const answer = await fetch(`/upload?name=${encodeURIComponent(file.files[0].name)}`, { method: "POST", body: file.files[0] });
    const told = await answer.json().catch(() => ({ says: "The file could not be taken." }));
    if (told.design) { close(); await ask({ do: "list" }); enter(told.design); } else fault.textContent = told.says;
  } });
  return h("form", { class: "new", onsubmit: async (event) => {
    event.preventDefault();
    try {
      await ask({ do: "begin", new: name.value, like: like.value });
      close();
      header();
    } catch (error) { fault.textContent = error.says; }
  } },
  h("div", { class: "row" }, h("label", { for: "new-name" }, "Its name"), name),
  h("div", { class: "row" }, h("label", { for: "new-like" }, "Like"), like),
  h("p", { class: "help" }, "dunnock is a first trainer, brambling a biplane, turnstone a tailless delta."),
  h("div", { class: "buttons" }, h("button", { type: "submit", class: "main" }, "Begin"), h("button", { type: "button", onclick: close, class: "close" }, "Leave it")),
  h("div", { class: "row" }, h("label", { for: "new-file" }, "or bring a design file"), file), fault);
}

function newDesign() {
  const dialog = h("dialog", { "aria-label": "A new design" });
  const close = () => { dialog.close(); dialog.remove(); };
  dialog.append(h("h2", {}, "A new design"), newForm(close));
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

export async function enter(name) {
  try { await ask({ do: "open", name }); localStorage.setItem("last", name); } catch (error) { if (!state.name) show(); tell(error.says); }
}

let shownNotice = "";
function tell(words) {
  if (words === shownNotice) return;
  shownNotice = words;
  put(notice, words ? h("p", {}, words, " ", h("button", { type: "button", "aria-label": "Put this notice away", onclick: () => tell("") }, "×")) : null);
}

watch("welcome", (m) => {
  header();
  navigation();
  const last = localStorage.getItem("last");
  const first = state.name ?? m.first ?? (state.designs.includes(last) ? last : state.designs[0]);
  state.name = null;
  if (first) enter(first); else show();
});
let drawnFor = null;
watch("document", () => {
  header();
  tell(state.faults.length ? state.faults.map((f) => `${f.line ? `Line ${f.line}: ` : ""}${f.where.length ? `${spoken(f.where)}: ` : ""}${f.says}`).join("  ") : state.notice);
  if (drawnFor !== state.name) { drawnFor = state.name; show(); }
});
watch("designs", header);
watch("history", () => {
  const fresh = [stepper("undo", "Undo", "↶", undo), stepper("redo", "Redo", "↷", redo)];
  for (const one of fresh) { const old = document.getElementById(one.id); if (old && (old.disabled !== one.disabled || old.title !== one.title)) old.replaceWith(one); }
});
watch("units", () => { if (state.room !== "shape") show(); });
watch("refusal", () => { if (state.refusal && state.room !== "shape") tell(state.refusal); });
hear("line", ({ up }) => {
  document.body.classList.toggle("cut-off", !up);
  if (!up) tell("The line to the bench is broken: it was stopped, or the machine slept. Nothing is lost; trying again …");
  else tell("");
});
addEventListener("hashchange", () => { show(); room.focus({ preventScroll: true }); scrollTo(0, 0); });
addEventListener("error", (event) => { tell(`Something on this page went wrong (${event.message}). The design is safe; load the page again.`); });

const spoken = (where) => where.map((p) => (typeof p === "number" ? String(p + 1) : p.replaceAll("_", " "))).join(" ");

panel(document.getElementById("panel"));
openLine();
say("");
