// Strength: what the wings bear at their limit load, how far they bend, and what gives first.

import { capital, h } from "../dom.js";
import { mm, spoken, told } from "../units.js";
import { plot, table, fmt } from "../plot.js";
import { computedRoom } from "./shared.js";

const times = (v) => (v === null ? "–" : fmt(v));

export function strengthRoom() {
  return computedRoom("strength", "Strength", (d) => {
    const weakest = d.wings.reduce((a, b) => ((b.margin ?? Infinity) < (a.margin ?? Infinity) ? b : a));
    const softest = d.wings.reduce((a, b) => (Math.abs(b.soft) > Math.abs(a.soft) ? b : a));
    const most = Math.min(12, 4 * Math.max(1.5, ...d.wings.map((w) => w.margin ?? 1.5)));
    const along = "from the centre line";
    return [
      h("p", { class: "lead" }, h("strong", {}, `Made for ${fmt(d.factor)} g`), `: ${spoken(d.because)}, top speed ${told("speed", d.top)}. `,
        weakest.margin === null ? "No piece is strained." : [h("strong", {}, `The weakest link is the ${weakest.weakest} of the ${weakest.name}`), `, ${weakest.weakest_y < 0.5 ? "at" : `${mm(weakest.weakest_y)} from`} the centre line: ${fmt(weakest.margin)} times over at the limit load, a safety factor of ${fmt(d.safety)} already taken off${weakest.margin < 1 ? ". It may break." : "."}`]),
      h("p", { class: "lead quiet" }, `At that load the tips of the ${softest.name} rise ${mm(softest.tip)}, ${fmt(100 * softest.soft)} % of the half span; above ${fmt(100 * d.soft)} % a wing is soft (common practice, no source). The body at the wing and a hard landing are not computed.`),
      h("div", { class: "two three" },
        plot({ title: "Bending moment along the half span", small: true, kinds: ["length", "moment"], x: along, y: "bending moment", zero: true, curves: d.wings.map((w, i) => ({ label: w.name, x: w.y, y: w.moments, accent: i === 0, dash: i > 1 })) }),
        plot({ title: "Rise at the limit load", small: true, kinds: ["length", "length"], x: along, y: "rise", zero: true, curves: d.wings.map((w, i) => ({ label: w.name, x: w.y, y: w.rises, accent: i === 0, dash: i > 1 })) }),
        plot({ title: "Margin along the half span", small: true, kinds: ["length"], x: along, y: "times over, safety included", zero: true, curves: [...d.wings.map((w, i) => ({ label: w.name, x: w.y, y: w.margins.map((v) => (v === null || v > most ? null : v)), accent: i === 0, dash: i > 1 })), { label: "just enough", x: [0, Math.max(...d.wings.flatMap((w) => w.y))], y: [1, 1], dash: true }],
          marks: weakest.margin === null ? [] : [{ x: weakest.weakest_y, y: weakest.margin, label: weakest.weakest }] })),
      h("div", { class: "two" }, d.wings.map((w) => table(`${capital(w.name)}: stress in every piece where it is strained most`, ["piece", "stress", "allowed", "times over", ""], w.stresses.map((x) => [x.name, x.stress === 0 ? "–" : told("stress", Math.abs(x.stress)), x.allowed === 0 ? "–" : told("stress", Math.abs(x.allowed)), times(x.margin), x.stress === 0 ? "" : x.stress < 0 ? "squeezed" : "pulled"])))),
      table("Each wing at its limit load", ["wing", "lift in level flight", "root moment", "tips rise", "joiner's ends bear", "bands", "speed before it twists off or flutters"], d.wings.map((w) => [`${w.name}${w.braced ? ", braced" : ""}`, told("force", w.lift), told("moment", w.moment), mm(w.tip), w.couple === null ? "–" : told("force", w.couple), w.bands ? `${w.bands[0]}, each pulling ${told("force", w.bands[2])}` : "–", w.reserve === null ? "no such speed" : `${fmt(w.reserve)} × top speed`])),
      d.struts.length ? table("Struts at limit load", ["strut", "carries", "would bow out at", "times over"], d.struts.map((x) => [x.name, `${told("force", Math.abs(x.pull))} ${x.pull < 0 ? "pushed" : "pulled"}`, told("force", x.buckles), x.margin === null ? "only pulled" : fmt(x.margin)])) : null,
    ];
  });
}
