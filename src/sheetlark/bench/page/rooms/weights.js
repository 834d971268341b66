// Weights: what everything weighs and where, and how it balances.

import { h, s } from "../dom.js";
import { figure, inPageUnits, mm, told } from "../units.js";
import { table } from "../plot.js";
import { computedRoom } from "./shared.js";

const OWN_SIZE = /^(area )?[\d.]+ ([cd]m²|mm\b|m\b)/; // of the piece; what follows is what its stock is sold as

export function weightsRoom() {
  return computedRoom("weights", "Weights", ({ weights, balance }) => {
    const groups = new Map();
    for (const line of weights.lines) groups.set(line.group, [...(groups.get(line.group) ?? []), line]);
    const sums = [...groups].map(([name, lines]) => [name, lines.reduce((sum, line) => sum + line.mass_g, 0)]).sort((a, b) => b[1] - a[1]);
    const most = Math.max(...sums.map(([, mass]) => mass), 1e-9);
    return [
      h("p", { class: "lead" }, h("strong", {}, told("mass", weights.all_up_g)), ` ± ${figure("mass", weights.spread_g)[0]} ready to fly; it balances ${mm(weights.balance_mm.x)} behind the nose datum`,
        balance.percent_mean_chord === undefined ? "." : `, at ${balance.percent_mean_chord.toFixed(0)} % of the mean chord.`),
      h("div", { class: "two" }, h("figure", { class: "plotted" }, h("figcaption", {}, "Where the weight goes"),
        h("ul", { class: "bars" }, sums.map(([name, mass]) => h("li", {}, h("span", {}, name), bar(mass / most), h("span", { class: "num" }, told("mass", mass)))))),
        beam(weights)),
      table("Every line of the weight table", ["what", "mass", "x", "y", "z", "source", "how"], [...groups].flatMap(([name, lines]) => lines.map((line) => [`${line.name}`, told("mass", line.mass_g), mm(line.x_mm), mm(line.y_mm), mm(line.z_mm), line.source, line.note.replace(OWN_SIZE, inPageUnits)]))),
      table("Moments of inertia about the balance point", ["about", "inertia", "±"], [["roll", "xx"], ["pitch", "yy"], ["yaw", "zz"]].map(([name, key]) => [name, told("inertia", 1000 * weights.inertia_kg_m2[key]), figure("inertia", 1000 * weights.inertia_spread_kg_m2[key])[0]])),
    ];
  });
}

const bar = (share) => s("svg", { viewBox: "0 0 100 10", preserveAspectRatio: "none", class: "bar", "aria-hidden": "true" }, s("rect", { width: 100 * share, height: 10 }));

// Every mass as a weight on a beam along the body, with the balance point under it.
function beam(weights) {
  const xs = weights.lines.map((line) => line.x_mm);
  const [low, high] = [Math.min(...xs, 0) - 10, Math.max(...xs) + 10];
  const most = Math.max(...weights.lines.map((line) => line.mass_g));
  const wide = innerWidth < 560 ? 340 : 560;
  const X = (x) => 20 + (x - low) / (high - low) * (wide - 40);
  return h("figure", { class: "plotted" }, h("figcaption", {}, "Every mass on its beam, seen from the side"),
    s("svg", { viewBox: `0 0 ${wide} 150`, class: "plot beam", role: "img", "aria-label": `Masses along the body; the balance point lies at ${mm(weights.balance_mm.x)}` },
      s("path", { d: `M20 100H${wide - 20}`, class: "curve" }),
      weights.lines.map((line) => { const r = 3 + (wide > 400 ? 22 : 15) * Math.sqrt(Math.max(0, line.mass_g) / most); return s("circle", { cx: X(line.x_mm), cy: 100 - r, r, class: `weight ${line.group.replaceAll(" ", "-")}` }, s("title", {}, `${line.name}: ${told("mass", line.mass_g)} at ${mm(line.x_mm)}`)); }),
      s("path", { d: `M${X(weights.balance_mm.x)} 101l11 20h-22Z`, class: "pivot" }),
      s("text", { x: X(weights.balance_mm.x), y: 138, "text-anchor": "middle" }, `balance ${mm(weights.balance_mm.x)}`)));
}
