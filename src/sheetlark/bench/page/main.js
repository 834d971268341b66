// The bench's page: title block, rooms in the order of the work, the panel beside them.

import { h, put, say } from "./dom.js";
import { ask, hear, open as openLine } from "./line.js";
import { state, watch, changed, plainly } from "./state.js";
import { isImperial, setImperial } from "./units.js";
import { add, drawer, last, openDesigns, remembered, shelfOf } from "./designs.js";
import { faultLines, panel } from "./panel.js";
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
let drawnFor = null; // the design that the room on the page was drawn for
let opened = false;

// Look: light, dark, or as the machine says.
const looks = ["auto", "light", "dark"];
let look = localStorage.getItem("look") ?? "auto";
function wear() {
  if (look === "auto") delete document.documentElement.dataset.look;
  else document.documentElement.dataset.look = look;
  changed("look");
}
wear();

function nothingOpen() {
  Object.assign(state, { name: null, values: null, scene: null, figures: [], before: [], findings: [], faults: [], notice: "", undo: "", redo: "", stale: false, layout: "", model: null, plates: null });
  drawnFor = null;
  header();
  changed("figures");
  show();
}

// The title block: made once, so that what has the keyboard keeps it; its words follow.
const steps = h("div", { class: "cell undo" });
const unitsButton = h("button", { type: "button", id: "units", onclick: () => { setImperial(!isImperial()); localStorage.setItem("units", isImperial() ? "imperial" : "metric"); header(); changed("units"); } });
const lookButton = h("button", { type: "button", id: "look", onclick: () => { look = looks[(looks.indexOf(look) + 1) % 3]; localStorage.setItem("look", look); wear(); header(); say(`Look: ${look}`); } });
put(head,
  h("div", { class: "cell brand" }, h("img", { src: "/page/mark.svg", alt: "", width: "22", height: "22" }), h("h1", {}, "Sheetlark")),
  openDesigns({ enter, choose: newDesign, none: nothingOpen }),
  steps,
  h("div", { class: "cell switches" }, unitsButton, lookButton));

function header() {
  unitsButton.textContent = isImperial() ? "in · oz" : "mm · g";
  unitsButton.setAttribute("aria-label", `Units: ${isImperial() ? "inches and ounces" : "millimetres and grams"}. Switch.`);
  lookButton.textContent = { auto: "◐", light: "○", dark: "●" }[look];
  lookButton.setAttribute("aria-label", `Look: ${{ auto: "as the machine says", light: "light", dark: "dark" }[look]}. Switch.`);
  lookButton.title = { auto: "Light or dark as the machine says", light: "Light", dark: "Dark" }[look];
  const had = document.activeElement?.id;
  put(steps, stepper("undo", "Undo", "↶", undo), stepper("redo", "Redo", "↷", redo));
  if (had === "undo" || had === "redo") document.getElementById(had).focus({ preventScroll: true });
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
  document.getElementById("panel").hidden = !state.name; // until there is a design, a picture has the whole page
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
  return h("section", { class: "welcome" }, h("h2", {}, "Open a design"),
    shelfOf(enter), h("h3", {}, "Or begin a new one"), fromPicture(), newForm(() => {}));
}

const fromPicture = (close) => h("p", {}, h("a", { href: "#picture", onclick: () => close?.() }, "From a three-view picture"), ", or from a starter:");

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
  const dialog = h("dialog", { "aria-label": "Open or begin a design" });
  const close = () => { dialog.close(); dialog.remove(); };
  dialog.append(h("h2", {}, "Open a design"), shelfOf((name) => { close(); enter(name); }), h("h3", {}, "Or begin a new one"), fromPicture(close), newForm(close));
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

// What the design on the page needs to look the same when it comes back.
function putAway() {
  if (!state.name) return;
  drawer().set("selected", state.selected);
  drawer().set(`scroll ${state.room}`, scrollY);
}

export async function enter(name) {
  putAway();
  try { await ask({ do: "open", name }); } catch (error) { if (!state.name) show(); tell(error.says); }
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
  const kept = remembered();
  const first = state.name ?? (opened ? null : m.first) ?? (state.designs.includes(last()) ? last() : kept[0] ?? state.designs[0]);
  opened = true;
  if (first !== state.name) state.name = null;
  if (first) enter(first); else { whole(); show(); }
});
watch("document", () => {
  whole();
  add(state.name);
  header();
  tell(state.faults.length ? faultLines().join("\n") : state.notice);
  if (drawnFor !== state.name) {
    drawnFor = state.name;
    state.selected = drawer().get("selected") ?? null;
    show();
    const scrolled = drawer().get(`scroll ${state.room}`);
    if (scrolled !== undefined) requestAnimationFrame(() => scrollTo(0, scrolled));
  }
});
watch("designs", header);
watch("history", () => {
  header();
});
watch("units", () => { if (current?.units) current.units(); else if (state.room !== "shape") show(); });
watch("refusal", () => { if (state.refusal && state.room !== "shape") tell(state.refusal); });
const CUT_OFF = {
  gone: "The bench does not answer: it was stopped, or the machine slept. Every edit made so far is kept. Start it again with `sheetlark bench`; this page goes on trying …",
  anew: "The bench was started anew under another address. Open the address it printed; this page cannot follow it there. Every edit made so far is kept.",
  broken: "The line to the bench broke. Every edit made so far is kept; trying again …",
};
hear("line", ({ up, how }) => {
  if (up) return; // only when the design is there again is the page whole again
  document.body.classList.add("cut-off");
  tell(CUT_OFF[how]);
});
function whole() {
  if (document.body.classList.contains("cut-off") && Object.values(CUT_OFF).includes(shownNotice)) tell("");
  document.body.classList.remove("cut-off");
}
addEventListener("hashchange", () => { show(); room.focus({ preventScroll: true }); scrollTo(0, 0); });
// "ResizeObserver loop" only says that a size settles a frame later.
addEventListener("error", (event) => { if (!/ResizeObserver/.test(event.message)) tell(`Something on this page went wrong (${event.message}). The design is safe; load the page again.`); });

panel(document.getElementById("panel"));
openLine();
say("");
