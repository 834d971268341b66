// Log: what it weighed and how it flew; what to write next; what that teaches.

import { h, put } from "../dom.js";
import { computedRoom, errand } from "./shared.js";
import { ask } from "../line.js";
import { state } from "../state.js";
import { isImperial, spoken } from "../units.js";

export function logRoom() {
  return computedRoom("log", "Log", (d) => {
    const learned = h("div", {});
    const teach = errand("taught", "What do the flights say?", (result) => put(learned, result.says.map((words) => h("p", { class: words.startsWith("   ") ? "do" : "" }, spoken(words.trim())))));
    return [
      h("p", { class: "lead" }, "Weigh the parts as you make them and write down how it flew: the figures then rest on your own sheets, and the next model begins with them. The logbook is the text file ", h("strong", {}, d.file), " beside the design."),
      h("div", { class: "two" }, weighing(d), flight(d)),
      d.weights.length ? h("section", { class: "card" }, h("h3", {}, "As built"), d.weights.map((words) => h("p", {}, spoken(words)))) : null,
      d.flights ? h("section", { class: "card" }, h("h3", {}, "What it teaches"), teach.node, learned) : null,
      h("h3", {}, "So far"), d.story.length ? h("ul", { class: "notes" }, d.story.map((words) => h("li", {}, spoken(words)))) : h("p", { class: "quiet" }, "Nothing has been written yet."),
    ];
  });
}

function form(title, kind, fields, read) {
  const fault = h("p", { class: "refusal", role: "alert" });
  return h("form", { class: "card", onsubmit: async (event) => {
    event.preventDefault();
    event.target.dataset.sent = "1"; // kept now, no longer typed
    try { await ask({ do: "log", name: state.name, kind, entry: read(), imperial: isImperial() }); } catch (error) { delete event.target.dataset.sent; fault.textContent = error.says; }
  } }, h("h3", {}, title), fields, fault, h("button", { type: "submit", class: "main" }, "Write it down"));
}

const line = (label, input, unit) => h("div", { class: "row" }, h("label", { for: input.id }, label), h("div", { class: "holds" }, input, unit ? h("span", { class: "unit" }, unit) : null));
const text = (id, more) => h("input", { type: "text", id, autocomplete: "off", ...more });

function weighing(d) {
  const imperial = isImperial();
  const what = h("select", { id: "log-what" }, d.names.map((name) => h("option", { value: name }, name === "all" ? "all, ready to fly" : `all of: ${name}`)), h("optgroup", { label: "one thing" }, d.lines.map((name) => h("option", { value: name }, name))));
  const mass = text("log-mass", { inputmode: "decimal", required: true }), balance = text("log-balance", { inputmode: "decimal" }), note = text("log-note", { maxlength: "400" });
  const unit = (input, word) => (/^[\d.,\s]+$/.test(input.value) && input.value.trim() ? `${input.value.replace(",", ".")} ${word}` : input.value);
  return form("On the scales", "weighing", [line("what", what), line("weighs", mass, imperial ? "oz" : "g"), line("balances at", balance, imperial ? "in" : "mm"), line("note", note)],
    () => ({ what: what.value, mass: unit(mass, imperial ? "oz" : "g"), balance: unit(balance, imperial ? "in" : "mm"), note: note.value }));
}

function flight(d) {
  const minutes = text("log-minutes", { inputmode: "decimal" }), charge = text("log-charge", { inputmode: "decimal" }), note = text("log-flight-note", { maxlength: "400" });
  const seen = d.symptoms.map((words, i) => h("label", {}, h("input", { type: "checkbox", id: `seen-${i}`, value: words }), words));
  return form("In the air", "flight", [line("minutes", minutes, "min"), line("put back by the charger", charge, "mAh"), line("note", note), h("details", {}, h("summary", {}, "What did it do that was not promised?"), h("div", { class: "ticks seen" }, seen))],
    () => ({ minutes: minutes.value, charge: charge.value ? `${charge.value} mAh` : "", note: note.value, seen: seen.map((label) => label.querySelector("input")).filter((input) => input.checked).map((input) => input.value) }));
}
