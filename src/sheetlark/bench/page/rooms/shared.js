// What rooms that show computed things share: ask for their data, and ask again when the design has changed.

import { h, put } from "../dom.js";
import { ask, hear } from "../line.js";
import { drawer } from "../designs.js";
import { state, watch } from "../state.js";
import { isImperial, spoken } from "../units.js";

const hearers = new Map();
hear("room", (m) => hearers.get(m.room)?.(m));

export function computedRoom(id, title, draw) {
  const body = h("div", { class: "room-body" }, h("p", { class: "quiet" }, "Working it out …"));
  const fault = h("p", { class: "refusal", role: "alert" });
  const node = h("section", { class: "computed", id: `room-${id}` }, h("h2", {}, title), fault, body);
  let asking = false, again = false, drawn = -1;
  async function fresh() {
    if (asking) { again = true; return; }
    if (drawn === state.revision) return;
    asking = true;
    try { await ask({ do: "room", name: state.name, room: id, imperial: isImperial() }); fault.textContent = ""; } catch (error) {
      fault.textContent = error.says;
      if (drawn < 0) put(body, h("p", { class: "quiet" }, "There is nothing to show until then."));
    }
    asking = false;
    if (again) { again = false; fresh(); }
  }
  hearers.set(id, (m) => {
    if (m.name !== state.name) return;
    drawn = m.revision;
    const top = document.activeElement?.id;
    gather();
    put(body, draw(m.data));
    giveBack();
    if (top) document.getElementById(top)?.focus({ preventScroll: true });
  });
  const offs = [watch("document", fresh), watch("welcome", () => { drawn = -1; })]; // a bench started anew counts from one
  fresh();
  // What a person has typed and not yet kept outlives a redrawing, and a look at another design.
  const mine = drawer();
  function gather() {
    const fields = [...body.querySelectorAll("input[id], select[id], textarea[id]")].filter((field) => !field.closest("[data-sent]"));
    if (body.querySelector("[id]")) mine.set(`typed ${id}`, fields.filter(changedByHand).map((field) => [field.id, field.type === "checkbox" ? field.checked : field.value]));
  }
  function giveBack() {
    for (const [key, value] of mine.get(`typed ${id}`) ?? []) {
      const field = document.getElementById(key);
      if (!field) continue;
      if (field.type === "checkbox") field.checked = value; else field.value = value;
      field.closest("details")?.setAttribute("open", "");
    }
  }
  return { node, close() { gather(); offs.forEach((off) => off()); hearers.delete(id); } };
}

function changedByHand(field) {
  if (field.type === "checkbox") return field.checked !== field.defaultChecked;
  if (field.tagName === "SELECT") return field.selectedIndex !== Math.max(0, [...field.options].findIndex((one) => one.defaultSelected));
  return field.value !== field.defaultValue;
}

// Long work: start it, show how far it is, let it be stopped. Work on a design goes on while another is shown and while the
// page is loaded again; what shows it on the page finds it by its kind and its design.
let counter = 0;
const going = new Map(); // what runs, by ticket
const showing = new Map(); // what shows it, by kind and design: the newest that was made
const missed = new Map(); // what ended before anything showed it
const left = new Set(); // what was left off, of which news may still be on its way
const placeOf = (m) => `${m.kind} ${m.name ?? ""}`;
hear("going", (m) => {
  going.clear();
  for (const one of m.works) if (!left.has(one.ticket)) going.set(one.ticket, one);
  for (const each of showing.values()) each.again();
});
hear("progress", (m) => { if (left.has(m.ticket)) return; going.set(m.ticket, m); showing.get(placeOf(m))?.progress(m); });
for (const kind of ["result", "failed"]) hear(kind, (m) => {
  going.delete(m.ticket);
  if (left.delete(m.ticket)) return;
  if (showing.has(placeOf(m))) showing.get(placeOf(m)).ended(m); else missed.set(placeOf(m), m);
});

// `again`: it has run by itself, and the button only repeats it. `ofPicture`: it works on a picture, whichever design is
// shown. done(result, about): about which design and revision.
export function errand(kind, words, done, { again: repeats = false, ofPicture = false } = {}) {
  const bar = h("progress", { max: "1", value: "0", "aria-label": words });
  const told = h("span", { class: "told", role: "status" });
  const stop = h("button", { type: "button", onclick: () => { if (current) ask({ do: "cancel", ticket: current }).catch(() => {}); } }, "Stop");
  const fault = h("p", { class: "refusal", role: "alert" });
  const working = h("div", { class: "working", hidden: true }, bar, told, stop);
  const start = h("button", { type: "button", class: repeats ? undefined : "main" }, words);
  const node = h("div", { class: "errand" }, start, working, fault);
  const made = { node, fault, options(make) { options = make; }, run, runUnlessGoing, stop: leave, failed: () => {}, soFar: () => {} };
  const name = ofPicture ? undefined : state.name;
  let options = () => ({});
  let current = null;
  // Leave off what is running; nothing more is heard of it.
  function leave() {
    if (!current) return;
    left.add(current);
    going.delete(current);
    ask({ do: "cancel", ticket: current, left: true }).catch(() => {});
    rest();
  }
  function rest() { current = null; working.hidden = true; start.disabled = false; }
  function fail(says) { rest(); fault.textContent = spoken(says); made.failed(says); }
  function show({ share, words: how }) { bar.value = share; told.textContent = spoken(how); working.hidden = false; start.disabled = true; }
  function adopt() {
    for (const one of going.values()) if (placeOf(one) === placeOf({ kind, name })) { current = one.ticket; fault.textContent = ""; show(one); }
  }
  showing.set(placeOf({ kind, name }), {
    progress(m) { if (!current) adopt(); if (m.ticket !== current) return; show(m); if (m.so_far) made.soFar(m.so_far); },
    again() {
      if (current && !going.has(current)) fail("The line to the bench broke, and this was not finished.");
      if (!current) adopt();
    },
    ended(m) {
      if (m.ticket !== current) return;
      if (m.is === "failed") { fail(m.says); return; }
      rest();
      done(m.result, { name: m.name, revision: m.revision, drawer: drawer(m.name) });
    },
  });
  // Something that is made for another design and room has its own place; this one's news waits until it is on the page.
  adopt();
  const before = missed.get(placeOf({ kind, name }));
  missed.delete(placeOf({ kind, name }));
  if (before?.is === "result") queueMicrotask(() => done(before.result, { name, revision: before.revision, drawer: drawer(name) }));
  function runUnlessGoing() { if (going.get(current)?.revision !== state.revision) run(); }
  async function run() {
    leave();
    const ticket = `${kind}-${Date.now()}-${Math.random().toString(36).slice(2, 8)}-${counter++}`;
    current = ticket;
    fault.textContent = "";
    show({ share: 0, words: "starting …" });
    try { await ask({ do: "errand", name: state.name, kind, ticket, imperial: isImperial(), ...options() }); } catch (error) { if (current === ticket) fail(error.says); }
  }
  start.addEventListener("click", run);
  return made;
}

// What long work came to: kept with the design it is about, and drawn while that one is shown. `again` draws what is kept,
// if it fits, and says whether it did.
export function kept(key, draw) {
  return {
    done(result, about) { about.drawer.set(key, { revision: about.revision, result }); if (about.name === state.name) draw(result); },
    again(fits = () => true) {
      const have = state.name && drawer().get(key);
      if (!have || !fits(have)) return false;
      draw(have.result);
      return true;
    },
  };
}

// The files that were written, to be taken down from the page.
export const listFiles = (place) => (result) =>
  put(place, h("h3", {}, `Written to ${result.folder}`), h("ul", {}, result.links.map((link) => h("li", {}, h("a", { href: link.href, download: link.name }, link.name)))));
