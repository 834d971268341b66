// Flight: how it moves, what it does, and a first flight flown by the numbers, with its track and a playback.

import { h, s, put } from "../dom.js";
import { axisOf, isImperial, scaled, spoken, told } from "../units.js";
import { drawer } from "../designs.js";
import { plot, table, fmt } from "../plot.js";
import { computedRoom, errand } from "./shared.js";
import { state, watch } from "../state.js";

export function flightRoom() {
  const flying = fly();
  const room = computedRoom("flight", "Flight", (d) => {
    const f = d.flight;
    const rows = [["stall", told("speed", f.stall_ms)], ["cruise", told("speed", f.cruise_ms)]];
    for (const [key, label, kind] of [["top_ms", "top speed", "speed"], ["climb_ms", "best climb", "speed"], ["best_glide_ms", "best glide at", "speed"], ["least_sink_ms", "least sink", "speed"], ["wind_limit_ms", "most wind to fly in", "speed"]]) if (f[key] !== undefined) rows.push([label, told(kind, f[key])]);
    if (f.glide_ratio !== undefined) rows.push(["best lift over drag, gliding", fmt(f.glide_ratio)]);
    if (f.turn_radius_m !== undefined) rows.push(["radius of a 30° turn", told("distance", f.turn_radius_m)], ["field it needs", `${told("distance", f.field_length_m)} × ${told("distance", f.field_width_m)}`]);
    if (f.cubic_band) rows.push(["wing cube loading", `${told("cubic", f.cubic_loading)}, ${f.cubic_band}`]);
    return [
      d.says.length ? h("ul", { class: "notes" }, d.says.map((words) => h("li", {}, spoken(words)))) : null,
      flying,
      h("div", { class: "two" },
        d.climb ? plot({ title: "Climb against airspeed", kinds: ["speed", "speed"], x: "airspeed", y: "climb", curves: [{ label: "full throttle", x: d.climb.speeds, y: d.climb.full, accent: true }, { label: `${Math.round(100 * d.climb.half_throttle)} % throttle`, x: d.climb.speeds, y: d.climb.half }, { label: "motor off", x: d.climb.speeds, y: d.climb.off, dash: true }].map(cut) }) : null,
        roots(f.modes)),
      table("How it moves when disturbed", ["motion", "swings", "halves in", "in words"], f.modes.map((m) => [m.name, m.period_s ? `${fmt(m.period_s)} s` : "no", m.time_to_half_s ? `${fmt(m.time_to_half_s)} s` : m.time_to_double_s ? `doubles in ${fmt(m.time_to_double_s)} s` : "–", spoken(m.says)])),
      h("div", { class: "two" }, table("What it does", ["figure", "value"], rows),
      f.turn ? table("A turn", ["figure", "value"], [["bank", `${fmt(f.turn.bank_deg)}°`], ["radius", told("distance", f.turn.radius_m)], ["sideslip, steady", `${fmt(f.turn.steady_sideslip_deg)}°`], ["most sideslip going in", `${fmt(f.turn.peak_sideslip_deg)}°`], ["time to bank", f.turn.time_to_bank_s === null ? "–" : `${fmt(f.turn.time_to_bank_s)} s`]]) : null),
    ];
  });
  const close = room.close;
  return { ...room, close() { flying.stop?.(); close(); } };
}

function cut(curve) {
  const keep = curve.x.map((_v, i) => i).filter((i) => curve.y[i] !== null && curve.y[i] > -12);
  return { ...curve, x: keep.map((i) => curve.x[i]), y: keep.map((i) => curve.y[i]) };
}

function roots(modes) {
  const [w, t] = innerWidth < 560 ? [340, 260] : [560, 300];
  const re = Math.max(2, ...modes.map((m) => Math.min(30, Math.abs(m.real)))) * 1.1;
  const im = Math.max(2, ...modes.map((m) => Math.abs(m.imag))) * 1.15;
  const bend = (v, most) => Math.sign(v) * Math.sqrt(Math.min(1, Math.abs(v) / most));
  const X = (v) => w * 0.62 + bend(v, re) * w * (v < 0 ? 0.56 : 0.32);
  const Y = (v) => t - 30 - Math.sqrt(Math.min(1, v / im)) * (t - 60);
  const leftward = (m) => X(m.real) > w - 110 || (m.real < 0 && X(0) - X(m.real) < 78 && X(m.real) > 90); // clear of the line, and of the edge
  // A name goes up until it covers no other.
  const taken = [];
  function place(m) {
    const wide = 6.6 * m.name.length, at = X(m.real) + (leftward(m) ? -9 : 9);
    const from = leftward(m) ? at - wide : at;
    let y = Y(m.imag) - 8;
    while (taken.some((one) => Math.abs(one.y - y) < 14 && from < one.to && one.from < from + wide)) y -= 3;
    taken.push({ y, from, to: from + wide });
    return { x: at, y, "text-anchor": leftward(m) ? "end" : "start" };
  }
  return h("figure", { class: "plotted" }, h("figcaption", {}, "Its motions as roots"), s("svg", { viewBox: `0 0 ${w} ${t}`, class: "plot", role: "img", "aria-label": modes.map((m) => `${m.name}: ${fmt(m.real)} per second, ${fmt(m.imag)} radians per second`).join("; ") },
    s("rect", { x: X(0), y: 10, width: w - X(0), height: t - 40, class: "band" }),
    s("path", { d: `M${X(0)} 10V${t - 30}`, class: "zero" }), s("path", { d: `M20 ${t - 30}H${w - 10}`, class: "zero" }),
    modes.map((m) => [s("circle", { cx: X(m.real), cy: Y(m.imag), r: 5, class: m.real > 0 ? "dot" : "dot hollow" }), s("text", { ...place(m), class: "callout" }, m.name)]),
    s("text", { x: 20, y: t - 8 }, "dies out quickly"), s("text", { x: w - 12, y: t - 8, "text-anchor": "end" }, "grows")), h("p", { class: "small quiet" }, "Left of the line a motion dies out; right of it, it grows. The higher, the faster it swings."));
}

// The first flight -------------------------------------------------------------------------------------------

function fly() {
  const out = h("div", {});
  const work = errand("flight", "Fly it for the first time", (result, about) => { about.drawer.set("flight", { revision: about.revision, result }); if (node.isConnected && about.name === state.name) draw(result); });
  let timer = null, seen = null, repaint = () => {};
  const off = watch("look", () => requestAnimationFrame(() => repaint()));
  const node = h("section", { class: "card" }, h("h3", {}, "A first flight, simulated"),
    h("p", { class: "small quiet" }, "From the hand, or from its wheels where it has them, into the wind the design states, by a pilot who climbs, turns both ways, stalls it on purpose and lands. A flight by the numbers, not a promise: fly the real one with someone who can, away from people, where it is allowed."), work.node, out);
  node.stop = () => { clearInterval(timer); seen?.disconnect(); off(); };
  function draw(r, before = false) {
    clearInterval(timer);
    const n = r.t.length;
    let at = 0, [turn, tilt] = [0.7, 0.35];
    const canvas = h("canvas", { class: "track", tabindex: "0", role: "img", "aria-label": `Track of the flight: ${r.events.map((e) => spoken(e.says)).join("; ")}` });
    const slider = h("input", { type: "range", min: "0", max: String(n - 1), value: "0", "aria-label": "Moment of the flight" });
    const words = h("span", { class: "told" });
    const squares = h("p", { class: "small quiet" });
    const play = h("button", { type: "button" }, "Play");
    const stopPlay = () => { clearInterval(timer); timer = null; play.textContent = "Play"; };
    play.addEventListener("click", () => {
      if (timer) { stopPlay(); return; }
      if (at >= n - 1) at = 0;
      play.textContent = "Pause";
      timer = setInterval(() => { at += 1; if (at >= n - 1) { at = n - 1; stopPlay(); } show(); }, 100);
    });
    slider.addEventListener("input", () => { at = Number(slider.value); show(); });
    const rows = r.events.map((e) => h("li", {}, h("button", { type: "button", class: "remove", onclick: () => { at = Math.max(0, r.t.findIndex((t) => t >= e.t)); show(); } }, `${e.t.toFixed(1)} s, ${told("distance", Math.max(0, e.height))}`), h("span", {}, spoken(e.says))));
    const marks = plotMarks();
    put(out, before ? h("p", { class: "quiet" }, "Flown as the design was before the last change; fly it again to see what that did.") : null, canvas, squares, h("div", { class: "play" }, play, slider, words), h("div", { class: "two loose" }, h("ol", { class: "story" }, rows), marks.node),
      h("p", { class: "small quiet" }, `Trim it needs: elevator ${stick(r.trim.pitch)}, aileron ${stick(r.trim.roll)}, rudder ${stick(r.trim.yaw)}. ${r.landed ? "It landed as planned." : "It did not land as planned: read the story."}`));
    seen?.disconnect();
    seen = new ResizeObserver(() => requestAnimationFrame(show));
    seen.observe(canvas);
    repaint = show;
    let last = null;
    canvas.addEventListener("pointerdown", (e) => { last = [e.clientX, e.clientY]; canvas.setPointerCapture(e.pointerId); });
    canvas.addEventListener("pointermove", (e) => { if (!last) return; turn += (e.clientX - last[0]) * 0.01; tilt = Math.max(0.02, Math.min(1.5, tilt + (e.clientY - last[1]) * 0.01)); last = [e.clientX, e.clientY]; show(); });
    canvas.addEventListener("pointerup", () => { last = null; });
    canvas.addEventListener("keydown", (e) => { const by = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.08], ArrowDown: [0, -0.08] }[e.key]; if (!by) return; e.preventDefault(); turn += by[0]; tilt = Math.max(0.02, Math.min(1.5, tilt + by[1])); show(); });

    function plotMarks() {
      const [high, fast] = [axisOf("distance")[1], axisOf("speed")[1]];
      const p = plot({ title: "Height and airspeed", x: "seconds", y: `${high}, and ${fast}`, height: 220, zero: true, curves: [{ label: `height, ${high}`, x: r.t, y: scaled("distance", r.height) }, { label: `airspeed, ${fast}`, x: r.t, y: scaled("speed", r.speed), accent: true }] });
      return { node: p };
    }

    function show() {
      slider.value = String(at);
      words.textContent = `${r.t[at].toFixed(1)} s, ${told("distance", r.height[at])} high, ${told("speed", r.speed[at])}, bank ${fmt(Math.round(r.bank[at]))}°`;
      const box = canvas.getBoundingClientRect();
      if (box.width < 10) return;
      const ratio = Math.min(2, devicePixelRatio || 1);
      canvas.width = box.width * ratio; canvas.height = box.height * ratio;
      const c = canvas.getContext("2d");
      c.scale(ratio, ratio);
      const style = getComputedStyle(document.documentElement);
      const ink = style.getPropertyValue("--ink"), soft = style.getPropertyValue("--soft"), rule = style.getPropertyValue("--rule"), pencil = style.getPropertyValue("--pencil");
      const mid = [avg(r.north), avg(r.east), 0];
      const size = Math.max(range(r.north), range(r.east), 2 * Math.max(...r.height), 20);
      const scale = Math.min(box.width, 1.55 * box.height) / size * 0.72;
      const P = (x, y, z) => {
        const [a, b] = [x - mid[0], y - mid[1]];
        const u = a * Math.sin(turn) + b * Math.cos(turn), v = a * Math.cos(turn) - b * Math.sin(turn);
        return [box.width / 2 + u * scale, box.height * 0.68 - (z * Math.cos(tilt) + v * Math.sin(tilt)) * scale];
      };
      const line = (points, colour, width, dash = []) => { c.beginPath(); points.forEach((p, i) => (i ? c.lineTo(...p) : c.moveTo(...p))); c.strokeStyle = colour; c.lineWidth = width; c.setLineDash(dash); c.stroke(); };
      const foot = isImperial() ? 0.3048 : 1; // squares of whole feet or metres
      const step = (size > 150 ? (isImperial() ? 150 : 50) : isImperial() ? 30 : 10) * foot;
      const [n0, n1, e0, e1] = [Math.floor(Math.min(...r.north) / step) - 1, Math.ceil(Math.max(...r.north) / step) + 1, Math.floor(Math.min(...r.east) / step) - 1, Math.ceil(Math.max(...r.east) / step) + 1];
      for (let i = n0; i <= n1; i += 1) line([P(i * step, e0 * step, 0), P(i * step, e1 * step, 0)], rule, 0.7);
      for (let i = e0; i <= e1; i += 1) line([P(n0 * step, i * step, 0), P(n1 * step, i * step, 0)], rule, 0.7);
      line(r.t.map((_t, i) => P(r.north[i], r.east[i], 0)), soft, 1, [3, 4]);
      for (let i = 0; i < n; i += 20) line([P(r.north[i], r.east[i], 0), P(r.north[i], r.east[i], r.height[i])], rule, 1);
      line(r.t.map((_t, i) => P(r.north[i], r.east[i], r.height[i])), ink, 1.3);
      line(r.t.slice(0, at + 1).map((_t, i) => P(r.north[i], r.east[i], r.height[i])), pencil, 2.6);
      model(P, line, r, at, size * 0.05, pencil);
      squares.textContent = `Squares of ${told("distance", step).replace(/\.0 /, " ")}; the wind comes from ahead of the launch. Drag it, or use the arrow keys, to turn it.`;
    }
    show();
  }
  const kept = drawer().get("flight");
  if (kept) draw(kept.result, kept.revision !== state.revision);
  return node;
}

const avg = (list) => (Math.min(...list) + Math.max(...list)) / 2;
const range = (list) => Math.max(...list) - Math.min(...list);
const stick = (v) => `${v >= 0 ? "+" : "−"}${Math.abs(Math.round(100 * v))} %`;

// A small model, larger than life, in its attitude.
function model(P, line, r, i, big, colour) {
  const rad = Math.PI / 180;
  const [phi, theta, psi] = [r.bank[i] * rad, r.pitch[i] * rad, r.heading[i] * rad];
  const turned = ([x, y, z]) => { // body axes: x forward, y starboard, z down -> north, east, up
    const [cp, sp, ct, st, cs, ss] = [Math.cos(phi), Math.sin(phi), Math.cos(theta), Math.sin(theta), Math.cos(psi), Math.sin(psi)];
    const n = ct * cs * x + (sp * st * cs - cp * ss) * y + (cp * st * cs + sp * ss) * z;
    const e = ct * ss * x + (sp * st * ss + cp * cs) * y + (cp * st * ss - sp * cs) * z;
    const d = -st * x + sp * ct * y + cp * ct * z;
    return P(r.north[i] + n, r.east[i] + e, r.height[i] - d);
  };
  const at = (x, y, z) => turned([x * big, y * big, z * big]);
  line([at(0.2, -1, 0), at(0.2, 1, 0), at(-0.15, 1, 0), at(-0.15, -1, 0), at(0.2, -1, 0)], colour, 1.6);
  line([at(0.6, 0, 0), at(-0.9, 0, 0)], colour, 2.2);
  line([at(-0.9, -0.4, 0), at(-0.9, 0.4, 0)], colour, 1.8);
  line([at(-0.7, 0, 0), at(-0.95, 0, -0.35), at(-0.95, 0, 0)], colour, 1.6);
}
