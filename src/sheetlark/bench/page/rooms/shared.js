// What rooms that show computed things share: ask for their data, and ask again when the design has changed.

import { h, put } from "../dom.js";
import { ask, hear } from "../line.js";
import { drawer } from "../designs.js";
import { state, watch } from "../state.js";
import { isImperial } from "../units.js";

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

// Long work: start it, show how far it is, let it be stopped.
let counter = 0;
const running = new Map();
hear("progress", (m) => running.get(m.ticket)?.progress(m));
hear("result", (m) => { running.get(m.ticket)?.result(m.result); running.delete(m.ticket); });
hear("failed", (m) => { running.get(m.ticket)?.failed(m.says); running.delete(m.ticket); });

// `again`: it has run by itself, and the button only repeats it. done(result, about): about which design and revision.
export function errand(kind, words, done, { again: repeats = false } = {}) {
  const bar = h("progress", { max: "1", value: "0", "aria-label": words });
  const told = h("span", { class: "told", role: "status" });
  const stop = h("button", { type: "button" }, "Stop");
  const fault = h("p", { class: "refusal", role: "alert" });
  const working = h("div", { class: "working", hidden: true }, bar, told, stop);
  const start = h("button", { type: "button", class: repeats ? undefined : "main" }, words);
  const node = h("div", { class: "errand" }, start, working, fault);
  const made = { node, options(make) { options = make; }, run, stop: leave, failed: () => {} };
  let options = () => ({});
  let current = null;
  // Leave off what is running; nothing more is heard of it.
  function leave() {
    if (!current) return;
    running.delete(current);
    ask({ do: "cancel", ticket: current, left: true }).catch(() => {});
    ended();
  }
  function ended() { current = null; working.hidden = true; start.disabled = false; }
  async function run() {
    leave();
    const ticket = `${kind}-${Date.now()}-${counter++}`;
    current = ticket;
    const about = { name: state.name, revision: state.revision, drawer: drawer() };
    running.set(ticket, {
      progress: (m) => { bar.value = m.share; told.textContent = m.words; },
      result: (result) => { ended(); done(result, about); },
      failed: (says) => { ended(); fault.textContent = says; made.failed(says); },
    });
    fault.textContent = "";
    working.hidden = false;
    start.disabled = true;
    bar.value = 0;
    told.textContent = "starting …";
    stop.onclick = () => ask({ do: "cancel", ticket }).catch(() => {});
    try { await ask({ do: "errand", name: state.name, kind, ticket, ...options() }); } catch (error) {
      running.delete(ticket);
      if (current === ticket) { ended(); fault.textContent = error.says; made.failed(error.says); }
    }
  }
  start.addEventListener("click", run);
  return made;
}
