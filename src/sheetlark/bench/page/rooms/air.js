// Air: lift and drag curves, the drag's parts, and where the load lies along the span.

import { h } from "../dom.js";
import { spoken, told } from "../units.js";
import { plot, table, fmt } from "../plot.js";
import { computedRoom } from "./shared.js";

export function airRoom() {
  return computedRoom("air", "Air", (d) => {
    const scaled = (curve, by) => curve.map((v) => (v === null ? null : v * by));
    const sure = 1 + d.lift_spread;
    const most = d.build_up.reduce((sum, row) => sum + row.area_cm2, 0);
    return [
      h("p", { class: "lead" }, `Flat sheet at ${told("speed", d.speed)}: it stalls at ${fmt(d.stall.alpha)}° with a lift coefficient of ${fmt(d.stall.lift)}; best lift over drag is ${fmt(d.air.best_lift_to_drag)}. Coefficients are referred to ${told("area", d.air.reference.area_dm2)} and a mean chord of ${told("length", d.air.reference.mean_chord_mm)}.`),
      d.air.stall ? h("p", { class: "lead quiet" }, `The flow first leaves the ${d.air.stall.first} at ${Math.round(100 * d.air.stall.share_of_span)} % of its half span, at ${fmt(d.air.stall.alpha_deg)}°.`) : null,
      h("div", { class: "two" },
        plot({ title: "Lift against angle of attack", x: "angle of attack, degrees", y: "lift coefficient", curves: [
          { label: "lift", x: d.alpha, y: d.lift, accent: true }, { label: "± one standard deviation", x: d.alpha, y: scaled(d.lift, sure), dash: true }, { label: "", x: d.alpha, y: scaled(d.lift, 2 - sure), dash: true }], marks: [{ x: d.stall.alpha, y: d.stall.lift, label: "stall" }] }),
        plot({ title: "Lift against drag", x: "drag coefficient", y: "lift coefficient", zero: false, curves: [{ label: "free", x: d.drag.filter((_v, i) => d.alpha[i] <= d.stall.alpha + 1 && d.alpha[i] > -6), y: d.lift.filter((_v, i) => d.alpha[i] <= d.stall.alpha + 1 && d.alpha[i] > -6) }, { label: "trimmed with the elevator", x: d.trimmed.drag, y: d.trimmed.lift, accent: true }] }),
        plot({ title: "Pitching moment about the balance point", x: "angle of attack, degrees", y: "moment coefficient", curves: [{ label: "falls where it is stable", x: d.alpha, y: d.pitch, accent: true }] }),
        plot({ title: "Load along each surface", x: "share of the half span, port to starboard", kinds: [null, "load"], y: "load", zero: true, curves: d.loading.map((s, i) => ({ label: s.surface, x: s.eta, y: s.load, accent: i === 0, dash: i === 2, dots: i > 2 })) })),
      h("div", { class: "two" }, table("How much each surface carries", ["surface", "lift", "share"], d.shares.map((s) => [s.surface, told("force", s.lift_n), `${Math.round(100 * s.share)} %`]))),
      table("What the drag is made of, at small lift", ["part", "drag area", "share", "±", "source"], d.build_up.map((row) => [row.name, told("dragarea", row.area_cm2), `${Math.round(100 * row.area_cm2 / most)} %`, `${Math.round(100 * row.spread)} %`, row.source])),
      d.warnings.length || d.thin.length ? h("ul", { class: "notes" }, d.warnings.map((w) => h("li", {}, spoken(w))), d.thin.map((name) => h("li", {}, `No opened source covers the section of ${name}; its figures spread wider.`))) : null,
    ];
  });
}
