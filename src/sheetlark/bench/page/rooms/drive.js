// Drive: what motor, propeller and battery give together, and what in stock would suit the design better.

import { h, put } from "../dom.js";
import { figure, mm, spoken, told } from "../units.js";
import { plot, table, fmt } from "../plot.js";
import { computedRoom, errand, kept } from "./shared.js";
import { state, commit } from "../state.js";

export function driveRoom() {
  const matching = match();
  const room = computedRoom("drive", "Drive", (data) => {
    if (data.none) return h("p", { class: "lead" }, "This design has no motor. Add a motor and battery in the Shape room to see what they give.");
    const d = data.drive;
    const curves = data.throttles.map((t, i) => [t, i]).filter(([t]) => [0.5, 0.7, 1].some((v) => Math.abs(t - v) < 0.01)).map(([t, i]) => ({ label: `thrust at ${Math.round(100 * t)} % throttle`, x: data.speeds, y: data.net[i].map((v) => (v > -1 ? v : null)), ...worn(t) }));
    const far = (data.top ?? 15) * 1.35;
    for (const c of curves) { const n = c.x.findIndex((v) => v > far); if (n > 0) { c.x = c.x.slice(0, n); c.y = c.y.slice(0, n); } }
    if (data.drag) curves.push({ label: "drag in level flight", x: data.drag.x, y: data.drag.y, accent: true });
    return [
      h("p", { class: "lead" }, h("strong", {}, `${data.motor}, ${data.propeller}`), `, ${data.pack}, ${data.controller}. The figures rest on typical stock until yours are measured.`),
      h("p", { class: "lead quiet" }, "Take the propeller off for every test on the table. Charge lithium packs on something that cannot burn, and stay beside them."),
      h("div", { class: "two" },
        plot({ title: "Thrust against drag in level flight", kinds: ["speed", "force"], x: "airspeed", y: "force", curves, zero: true, marks: data.top ? [{ x: data.top, y: at(data.drag, data.top), label: "top speed" }] : [] }),
        plot({ title: "Current from the battery", kinds: ["speed"], x: "airspeed", y: "current, A", zero: true, curves: data.throttles.map((t, i) => [t, i]).filter(([t]) => [0.5, 0.7, 1].some((v) => Math.abs(t - v) < 0.01)).map(([t, i]) => { const n = data.speeds.findIndex((v) => v > far); return { label: `${Math.round(100 * t)} % throttle`, x: data.speeds.slice(0, n), y: data.current[i].slice(0, n), ...worn(t) }; }) })),
      h("div", { class: "two" }, table("Full throttle, standing still, full battery", ["figure", "value", "±"], [
        ["thrust", told("force", d.static_thrust_n), pct(d.spread_percent?.thrust)], ["thrust to weight, less what the nose costs", fmt(d.thrust_to_weight), ""],
        ["what the nose costs", `${fmt(d.nose_loss_percent)} %`, ""], ["current", told("current", d.static_current_a), pct(d.spread_percent?.current)], ["power from the battery", told("power", d.static_power_w), ""],
        ["speed of the propeller", `${Math.round(d.static_rpm)} rpm`, pct(d.spread_percent?.rpm)], ["pitch speed", told("speed", d.pitch_speed_ms), ""], ["flying time, full throttle", told("time", d.full_throttle_min), ""], ["flying time, cruising", d.cruise_min ? told("time", d.cruise_min) : "–", ""]]),
      table("What each can carry", ["part", "carries", "at most"], Object.keys(data.limits).map((name) => [name, told("current", data.currents[name]), told("current", data.limits[name])]))),
      matching,
    ];
  });
  return room;
}

const worn = (throttle) => ({ dash: throttle < 0.95 && throttle > 0.6, dots: throttle <= 0.6 });
const pct = (v) => (v === undefined || v === null ? "" : `${fmt(v)} %`);
function at(curve, x) {
  if (!curve) return null;
  for (let i = 1; i < curve.x.length; i += 1) if (curve.x[i] >= x) { const t = (x - curve.x[i - 1]) / (curve.x[i] - curve.x[i - 1]); return curve.y[i - 1] + t * (curve.y[i] - curve.y[i - 1]); }
  return curve.y[curve.y.length - 1];
}

function match() {
  const aim = h("select", { id: "aim" }, [["floating", "floating about"], ["sport", "sport"], ["vertical", "hanging on the propeller"], ["long", "long flights"]].map(([v, t]) => h("option", { value: v, selected: v === (state.values?.flying?.style ?? "sport") }, t)));
  const out = h("div", {});
  const found = kept("match", draw);
  const work = errand("match", "Try everything in stock", found.done);
  work.options(() => ({ aim: aim.value }));
  function draw(result) {
    const all = [...result.refused, ...result.fitting, ...(result.today && ![...result.refused, ...result.fitting].some((c) => c.keys.join() === result.today.keys.join()) ? [result.today] : [])].filter((c) => c.mixed !== null);
    const mine = result.today && result.today.mixed !== null ? result.today : null;
    const same = (c) => result.today && c.keys.slice(0, 3).join() === result.today.keys.slice(0, 3).join();
    put(out,
      h("p", { class: "lead" }, h("strong", {}, `${result.will_do.toLocaleString("en")} of ${result.tried.toLocaleString("en")}`), ` combinations will do, ${result.ahead} of them better than the one in it. Each was weighed in this model, the battery slid to where it balances; the largest propeller that clears ${spoken(result.clears)} is ${mm(result.largest, 0)}.`),
      all.length ? plot({ title: "Thrust to weight over minutes of mixed flying", x: "minutes", y: "thrust to weight", zero: true,
        curves: [{ label: "", x: [0, Math.max(...all.map((c) => c.mixed))], y: [result.wanted, result.wanted], dash: true }],
        marks: all.map((c) => ({ x: c.mixed, y: c.ratio, r: same(c) ? 7 : 3.5, hollow: c.refusals.length > 0, label: mine && same(c) ? "now" : "", title: `${c.motor}, ${c.propeller}, ${c.pack}: ${told("ratio", c.ratio)}, ${fmt(c.mixed)} min. ${c.refusals.join("; ")}` })) }) : null,
      table("The best of them", ["motor", "propeller", "battery", "all up", "thrust to weight", "current", "mixed flying", "battery at", ""], result.fitting.slice(0, 14).map((c) => [c.motor, c.propeller, c.pack, told("mass", c.mass), told("ratio", c.ratio), told("current", c.amps), told("time", c.mixed), mm(c.battery_x),
        same(c) ? "in use" : h("button", { type: "button", "aria-label": `Use ${c.motor}, ${c.propeller}, ${c.pack}`, onclick: () => take(c) }, "Use")])),
      h("details", {}, h("summary", {}, "Why the others will not do"), table("Reasons (one may have several)", ["reason", "combinations"], result.counts.map((c) => [spoken(c.reason), String(c.count)])),
        result.refused.length ? table("Nearest misses", ["motor", "propeller", "battery", "why not"], result.refused.slice(0, 8).map((c) => [c.motor, c.propeller, c.pack, spoken(c.refusals.join("; "))])) : null));
  }
  function take(c) {
    const at = state.values.drive.pack_at.map((v) => Math.round(v * 1e7) / 1e4);
    commit([[["drive", "motor"], c.keys[0]], [["drive", "propeller"], c.keys[1]], [["drive", "pack"], c.keys[2]], [["drive", "controller"], c.keys[3]], [["drive", "pack_at"], [c.battery_x, at[1], at[2]]]], `use ${c.keys[0]} with ${c.keys[1]} on ${c.keys[2]}`);
  }
  found.again();
  return h("section", { class: "card" }, h("h3", {}, "What would suit it"), h("div", { class: "row" }, h("label", { for: "aim" }, "It is for"), aim), work.node, out);
}

export { figure };
