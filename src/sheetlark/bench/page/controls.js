// A control for every value of the design, made from the bench's list of controls.

import { h, put, held, same, say } from "./dom.js";
import { entry, stepOf, unitOf, isImperial } from "./units.js";
import { state, watch, preview, commit, back, plainly, select } from "./state.js";

const LISTS = { wing: "wing", fin: "fin", strut: "strut", former: "former", spar: "spar", servo: "servo", ballast: "ballast", decal: "decal" };
const pathKey = (where) => where.join("/");

export function controlsPane() {
  const open = new Set(JSON.parse(sessionStorage.getItem("open") ?? "[\"wing\"]"));
  const boxes = new Map(); // path -> {refresh, node, fault}
  let shapeMark = null;
  const body = h("div", { class: "controls" });
  const node = h("section", { class: "pane", "aria-label": "Every number of the design" }, body);

  const shape = () => JSON.stringify(outline(state.values)) + isImperial();
  function outline(value) {
    if (Array.isArray(value)) return value.some((v) => v && typeof v === "object" && !Array.isArray(v)) ? value.map(outline) : value.length;
    if (value && typeof value === "object") return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, v && typeof v === "object" ? outline(v) : v === null ? null : 0]));
    return 0;
  }

  function build() {
    if (!state.values) { put(body, h("p", { class: "quiet" }, "The file cannot be read as a design yet; see what is wrong above.")); return; }
    const had = document.activeElement?.id;
    shapeMark = shape();
    boxes.clear();
    put(body, state.controls.map((control) => group(control, [control.key], 0)));
    faults();
    if (had) document.getElementById(had)?.focus({ preventScroll: true });
  }

  function details(title, where, level, inside, tools, right) {
    const id = pathKey(where);
    const d = h("details", { class: `level${level}`, open: open.has(id), data: { path: id } },
      h("summary", {}, h("span", { class: "title" }, title), right ?? null), h("div", { class: "inside" }, tools ?? null, inside));
    d.addEventListener("toggle", () => {
      if (d.open) open.add(id); else open.delete(id);
      sessionStorage.setItem("open", JSON.stringify([...open]));
      if (d.open && d.contains(document.activeElement)) choose(where);
    });
    return d;
  }

  function choose(where) {
    if (["wing", "fin"].includes(where[0]) && typeof where[1] === "number") select(where.slice(0, 2));
    else if (["tailplane", "body"].includes(where[0])) select([where[0]]);
    else if (where[0] === "drive" || where[0] === "radio" || where[0] === "gear" || where[0] === "ballast") select(where);
  }

  function group(control, where, level) {
    const value = held(state.values, where);
    if (control.kind === "list") return listed(control, where, level, value ?? []);
    if (value === null || value === undefined) {
      return h("div", { class: `absent level${level}` }, h("span", { class: "title" }, title(control.label)), adder(where, `Add ${article(control.label)}`));
    }
    const tools = control.optional ? h("div", { class: "row-tools" }, remover(where, control.label.toLowerCase())) : null;
    return details(title(control.label), where, level, rows(control.inside, where, level + 1), tools);
  }

  function listed(control, where, level, value) {
    const noun = LISTS[control.key] ?? control.label;
    const items = value.map((item, i) => {
      const here = [...where, i];
      const name = item.name ?? (control.key === "former" ? `${noun} at ${entry("length", item.at)} ${unitOf("length")}` : control.key === "servo" ? `${item.moves} servo` : control.key === "strut" ? `${item.joins[0]} to ${item.joins[1]}` : `${noun} ${i + 1}`);
      const least = control.key === "wing" && value.length === 1;
      return details(name, here, level + 1, rows(control.inside, here, level + 2), least ? null : h("div", { class: "row-tools" }, remover(here, name)));
    });
    const add = value.length < (control.most || 24) ? adder(where, `Add ${article(noun)}`) : null;
    return details(control.label, where, level, [items, add], null, h("span", { class: "count" }, String(value.length)));
  }

  const title = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const article = (noun) => (/s$/.test(noun) ? noun.toLowerCase() : /^[aeiou]/i.test(noun) ? `an ${noun.toLowerCase()}` : `a ${noun.toLowerCase()}`);

  function adder(where, words) {
    return h("button", { type: "button", class: "add", onclick: async () => {
      open.add(pathKey(where));
      const list = held(state.values, where);
      if (Array.isArray(list)) open.add(pathKey([...where, list.length]));
      if (await plainly({ do: "add", where, since: state.revision }, `${words.replace("Add", "Added")}.`)) choose(Array.isArray(list) ? [...where, list.length] : where);
    } }, words);
  }

  function remover(where, name) {
    return h("button", { type: "button", class: "remove", onclick: () => { select(null); commit([[where, null]], `remove ${name}`); say(`Removed ${name}. Undo brings it back.`); } }, `Remove ${name}`);
  }

  // Rows: tables within first become groups of their own at the end.
  function rows(controls, where, level) {
    const stated = held(state.values, where) ?? {};
    const free = stated.outline !== null && stated.outline !== undefined;
    const hidden = free ? ["span", "height", "root_chord", "tip_chord", "sweep", "tip_roundness"] : [];
    const plain = controls.filter((c) => c.kind !== "table" && c.kind !== "list" && !hidden.includes(c.key) && !(c.kind === "choice" && c.choices.length < 2) && !(c.key === "outline" && !free));
    const order = (c) => (c.key === "name" ? 0 : c.key === "at" ? 1 : 2);
    plain.sort((a, b) => order(a) - order(b));
    return [plain.map((c) => row(c, [...where, c.key])), controls.filter((c) => c.kind === "table" || c.kind === "list").map((c) => group(c, [...where, c.key], level))];
  }

  function row(control, where) {
    const id = `c-${pathKey(where).replaceAll("/", "-")}`;
    const help = [control.help, control.limits].filter(Boolean).join("; ");
    const fault = h("p", { class: "fault", id: `${id}-fault`, hidden: true });
    const made = make(control, where, id);
    const unit = made.unit ?? unitOf(control.kind);
    const wide = ["point", "pairs", "path", "names"].includes(control.kind) || control.key === "notes";
    const label = made.group ? h("span", { class: "label", id: `${id}-label` }, control.label) : h("label", { for: id }, control.label);
    const line = h("div", { class: `row${wide ? " wide" : ""}`, data: { path: pathKey(where) } }, label,
      h("div", { class: "holds" }, made.node, unit ? h("span", { class: "unit" }, unit) : null),
      help ? h("p", { class: "help", id: `${id}-help` }, help) : null, fault);
    for (const input of made.inputs) {
      input.setAttribute("aria-describedby", [help && `${id}-help`, `${id}-fault`].filter(Boolean).join(" "));
      input.addEventListener("focus", () => { line.classList.add("at"); });
      input.addEventListener("blur", () => { line.classList.remove("at"); });
    }
    boxes.set(pathKey(where), { refresh: made.refresh, fault, inputs: made.inputs, line });
    made.refresh();
    return line;
  }

  async function send(where, value, control) {
    const typed = (boxes.get(pathKey(where))?.inputs ?? []).filter((input) => input.type === "text").map((input) => [input, input.value]);
    const error = await commit([[where, value]], `${nameOf(where)}${control.label}`);
    const box = boxes.get(pathKey(where));
    if (!box) return;
    if (error) for (const [input, text] of typed) input.value = text; // what was refused can be set right where it stands
    delete box.fault.dataset.of;
    if (error) show(box, error.says.replace(/^[^:]*\.toml:\d+: /, "").replace(/^.*?: (?=expected|needs|give|end )/, ""));
    else show(box, "");
  }

  function nameOf(where) {
    for (let i = where.length - 1; i > 0; i -= 1) {
      const holder = held(state.values, where.slice(0, i));
      if (holder && typeof holder === "object" && !Array.isArray(holder) && holder.name && where[0] !== "model") return `${holder.name}, `;
    }
    return "";
  }

  function show(box, words) {
    box.fault.textContent = words;
    box.fault.hidden = !words;
    for (const input of box.inputs) { if (words) input.setAttribute("aria-invalid", "true"); else input.removeAttribute("aria-invalid"); }
  }

  function make(control, where, id) {
    const now = () => held(state.values, where);
    switch (control.kind) {
      case "choice": case "stock": return chooser(control, where, id, now);
      case "flag": {
        const input = h("input", { type: "checkbox", id, onchange: () => send(where, input.checked, control) });
        return { node: input, inputs: [input], refresh: () => { input.checked = Boolean(now()); } };
      }
      case "point": return several(control, where, id, now, control.choices, (v) => (v ?? []).map((x) => [x]));
      case "names": return joins(control, where, id, now);
      case "pairs": return pairs(control, where, id, now);
      case "several": return ticks(control, where, id, now);
      case "path": {
        const input = h("textarea", { id, rows: "3", spellcheck: "false", onchange: () => send(where, input.value, control) });
        return { node: input, inputs: [input], refresh: () => { if (document.activeElement !== input) input.value = now() ?? ""; } };
      }
      case "text": {
        const input = control.key === "notes" ? h("textarea", { id, rows: "3" }) : h("input", { id, type: "text", autocomplete: "off" });
        input.addEventListener("change", () => send(where, input.value, control));
        return { node: input, inputs: [input], refresh: () => { if (document.activeElement !== input) input.value = now() ?? ""; } };
      }
      default: return number(control, where, id, now);
    }
  }

  function number(control, where, id, now) {
    const input = h("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", class: "number", placeholder: control.optional ? "–" : "" });
    stepping(input, control.kind, (value, done) => (done ? send(where, value, control) : preview([[where, value]])));
    return { node: input, inputs: [input], refresh: () => { if (document.activeElement !== input || !input.dataset.touched) input.value = entry(control.kind, now()); } };
  }

  // Up and down step a number; a pause or leaving the box keeps it.
  function stepping(input, kind, tell) {
    let timer = null, touched = false;
    const finish = () => { clearTimeout(timer); timer = null; if (!touched) return; touched = false; delete input.dataset.touched; tell(input.value, true); };
    input.addEventListener("input", () => { touched = true; input.dataset.touched = "1"; });
    input.addEventListener("change", finish);
    input.addEventListener("blur", finish);
    input.addEventListener("keydown", (event) => {
      if (event.key === "Escape") { touched = false; delete input.dataset.touched; clearTimeout(timer); back(); input.blur(); return; }
      if (event.key === "Enter") { finish(); return; }
      if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
      const value = Number(input.value.replace(",", ".").replace("−", "-"));
      if (!Number.isFinite(value) || input.value.trim() === "") return;
      event.preventDefault();
      const step = stepOf(kind) * (event.shiftKey ? 10 : 1) * (event.key === "ArrowUp" ? 1 : -1);
      input.value = String(Number((value + step).toFixed(4)));
      touched = true;
      input.dataset.touched = "1";
      tell(input.value, false);
      clearTimeout(timer);
      timer = setTimeout(finish, 900);
    });
  }

  function several(control, where, id, now, axes) {
    const inputs = axes.map((axis, i) => h("input", { id: i ? `${id}-${i}` : id, type: "text", inputmode: "decimal", autocomplete: "off", class: "number", "aria-label": `${control.label}, ${axis}` }));
    const value = () => inputs.map((input, i) => { const stated = now()?.[i]; return input.value === entry("length", stated) && stated !== undefined ? Math.round(stated * 1e7) / 1e4 : input.value; });
    inputs.forEach((input) => stepping(input, "length", (_v, done) => (done ? send(where, value(), control) : preview([[where, value()]]))));
    return {
      node: h("div", { class: "axes", role: "group", "aria-labelledby": `${id}-label` }, axes.map((axis, i) => h("span", { class: "axis-in" }, h("span", { "aria-hidden": "true" }, axis), inputs[i]))),
      inputs, group: true, unit: unitOf("length"),
      refresh: () => inputs.forEach((input, i) => { if (document.activeElement !== input || !input.dataset.touched) input.value = entry("length", now()?.[i]); }),
    };
  }

  function pairs(control, where, id, now) {
    const holder = h("div", { class: "pairs", role: "group", "aria-labelledby": `${id}-label` });
    const inputs = [];
    const plain = () => (now() ?? []).map((pair) => pair.map((v) => Math.round(v * 1e7) / 1e4));
    let last = "";
    const refresh = () => {
      const mark = JSON.stringify(now() ?? []);
      if (mark === last || (holder.contains(document.activeElement) && document.activeElement.dataset.touched)) return;
      last = mark;
      const at = [...holder.querySelectorAll("input")].indexOf(document.activeElement);
      put(holder, (now() ?? []).map((pair, i) => h("div", { class: "pair" }, pair.map((v, j) => {
        const input = h("input", { type: "text", inputmode: "decimal", class: "number", value: entry("length", v), "aria-label": `${j ? "width" : "x"} of station ${i + 1}` });
        stepping(input, "length", (text, done) => { const all = plain(); all[i][j] = text; if (done) send(where, all, control); else preview([[where, all]]); });
        return input;
      }), h("button", { type: "button", class: "remove", "aria-label": `Remove station ${i + 1}`, disabled: (now() ?? []).length < 2, onclick: () => { const all = plain(); all.splice(i, 1); send(where, all, control); } }, "×"))),
      h("button", { type: "button", class: "add", onclick: () => { const all = plain(); const k = widest(all); const a = all[k], b = all[k + 1] ?? [a[0] + 50, a[1]]; all.splice(k + 1, 0, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]); send(where, all, control); } }, "Add a station"));
      if (at >= 0) holder.querySelectorAll("input")[at]?.focus({ preventScroll: true });
    };
    return { node: holder, inputs, group: true, unit: "", refresh };
  }

  function widest(all) {
    let k = 0;
    for (let i = 0; i + 1 < all.length; i += 1) if (all[i + 1][0] - all[i][0] > (all[k + 1]?.[0] ?? all[k][0]) - all[k][0]) k = i;
    return k;
  }

  function ticks(control, where, id, now) {
    const inputs = control.choices.map((choice) => h("input", { type: "checkbox", id: `${id}-${choice}`, onchange: () => send(where, control.choices.filter((c, i) => inputs[i].checked), control) }));
    return { node: h("div", { class: "ticks", role: "group", "aria-labelledby": `${id}-label` }, control.choices.map((choice, i) => h("label", {}, inputs[i], choice))), inputs, group: true, refresh: () => inputs.forEach((input, i) => { input.checked = (now() ?? []).includes(control.choices[i]); }) };
  }

  function joins(control, where, id, now) {
    const names = () => [...(state.values.body ? ["body"] : []), ...state.values.wing.map((w) => w.name)];
    const inputs = control.choices.map((end, i) => h("select", { "aria-label": end, id: i ? `${id}-${i}` : id, onchange: () => send(where, inputs.map((one) => one.value), control) }));
    let last = "";
    const refresh = () => { const mark = JSON.stringify([names(), now()]); if (mark === last) return; last = mark; inputs.forEach((input, i) => { if (document.activeElement !== input) put(input, names().map((n) => h("option", { value: n, selected: n === now()?.[i] }, n))); }); };
    return { node: h("div", { class: "axes", role: "group", "aria-labelledby": `${id}-label` }, inputs), inputs, group: true, refresh };
  }

  function chooser(control, where, id, now) {
    let last;
    const input = h("select", { id, onchange: () => { last = undefined; send(where, input.value || null, control); } });
    const options = control.kind === "stock" ? (state.shelves[control.choices[0]] ?? []).map((item) => [item.key, item.name]) : control.choices.map((c) => [c, c]);
    const refresh = () => {
      const value = now() ?? "";
      if (value === last || (document.activeElement === input && state.dragging)) return;
      last = value;
      const all = options.some(([key]) => key === value) || value === "" ? options : [[value, `${value} (not in stock)`], ...options];
      put(input, control.optional ? h("option", { value: "" }, control.key === "sheet" || control.key === "paper" ? "as the rest" : "–") : null, all.map(([key, name]) => h("option", { value: key, selected: key === value }, name)));
    };
    return { node: input, inputs: [input], refresh };
  }

  function refresh() {
    if (!state.values) { build(); return; }
    if (!state.dragging && shape() !== shapeMark) { build(); return; }
    for (const box of boxes.values()) {
      box.refresh();
      if (!box.fault.hidden && box.fault.dataset.of !== "design") show(box, ""); // what was refused no longer stands there
    }
  }

  function faults() {
    for (const box of boxes.values()) if (!box.fault.hidden && box.fault.dataset.of === "design") { show(box, ""); }
    for (const fault of state.faults ?? []) {
      for (let end = fault.where.length; end > 0; end -= 1) {
        const box = boxes.get(pathKey(fault.where.slice(0, end)));
        if (box) { show(box, fault.says); box.fault.dataset.of = "design"; let p = box.line.parentElement; while (p) { if (p.tagName === "DETAILS") p.open = true; p = p.parentElement; } break; }
      }
    }
  }

  function reveal() {
    const chosen = state.selected;
    if (!chosen) return;
    let d = null;
    for (let end = 1; end <= chosen.length; end += 1) {
      const found = body.querySelector(`details[data-path="${CSS.escape(pathKey(chosen.slice(0, end)))}"]`);
      if (found) { found.open = true; d = found; }
    }
    const line = boxes.get(pathKey(chosen))?.line;
    const to = line ?? d;
    const beside = getComputedStyle(node).position === "sticky"; // below the drawing, it must not pull the page away from it
    if (to && beside && !body.contains(document.activeElement)) to.scrollIntoView({ block: "nearest" });
    for (const one of body.querySelectorAll(".lit")) one.classList.remove("lit");
    to?.classList.add("lit");
  }

  const offs = [watch("scene", refresh), watch("document", () => { refresh(); faults(); }), watch("units", build), watch("selected", reveal)];
  build();
  return { node, close() { offs.forEach((off) => off()); } };
}

export { same };
