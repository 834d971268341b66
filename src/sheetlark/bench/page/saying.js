// Places and values of a design in words, by the list of controls.

import { entry, unitOf } from "./units.js";
import { state } from "./state.js";

// The controls on the way to a value, each with what it is called there: [{control, name}].
function wayTo(where) {
  const way = [];
  let [controls, held] = [state.controls, state.values];
  for (let i = 0; i < where.length; i += 1) {
    const control = controls.find((one) => one.key === where[i]);
    if (!control) break;
    held = held?.[control.key];
    if (control.kind === "list" && i + 1 < where.length) {
      i += 1;
      held = held?.[where[i]];
      way.push({ control, name: held?.name ?? nthOf(control, where[i]) });
    } else way.push({ control, name: control.label });
    controls = control.inside ?? [];
  }
  return way;
}

export const nthOf = (control, i) => `${control.label.replace(/s$/, "").toLowerCase()} ${i + 1}`;

export const placeOf = (where) => wayTo(where).map(({ name }) => name).join(", ");
export const controlOf = (where) => wayTo(where).at(-1)?.control;

// A value as the design has it (SI), as a person reads it.
export function shown(control, value) {
  if (value === null || value === undefined) return "–";
  if (control.kind === "path" || control.kind === "pairs") return "as drawn";
  const minus = (text) => text.replace("-", "−");
  if (control.kind === "point") return `${value.map((v) => minus(entry("length", v))).join(", ")} ${unitOf("length")}`;
  if (Array.isArray(value)) return value.join(", ");
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (control.kind === "stock") return (state.shelves[control.choices[0]] ?? []).find((item) => item.key === value)?.name ?? value;
  return minus(`${entry(control.kind, value)} ${unitOf(control.kind)}`.replace(" °", "°")).trim();
}

// The same of what would be written into the file: millimetres and degrees.
export function shownWritten(control, value) {
  const by = { point: 1e-3, length: 1e-3, angle: Math.PI / 180 }[control.kind] ?? 1;
  return shown(control, Array.isArray(value) ? value.map((v) => v * by) : typeof value === "number" ? value * by : value);
}
