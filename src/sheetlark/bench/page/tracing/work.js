// What is known of the picture on the light box: what was found in it, what was set right by hand, what was refused.

import { ask } from "../line.js";
import { copy, keyOf, nodesOf } from "./geometry.js";

export const PARTS = [
  ["wing/top/wing", "wing, from above"], ["wing/top/upper wing", "upper wing, from above"], ["wing/top/lower wing", "lower wing, from above"],
  ["tail/top/tailplane", "tailplane, from above"], ["body/top/body width", "body, from above"], ["body/side/body side", "body, from the side"],
  ["fin/side/fin", "fin, from the side"], ["wing/side/wing", "wing section, from the side"], ["wing/front/wing", "wing, from ahead"],
];
const MIRRORED = new Set(["wing", "tail", "body"]);
export const halves = (what) => { const [part, view] = what.split("/"); return view === "top" && MIRRORED.has(part); };
export const wordsFor = (o) => PARTS.find(([key]) => key === keyOf(o))?.[1] ?? `${o.name}, ${o.view} view`;

// What a change made of `was` is on top of other marks: fields it left alone, and outlines and boxes it left alone, are the others'.
const NAMED = { outlines: keyOf, boxes: (b) => b.kind };
function rebased(was, made, other) {
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  const out = {};
  for (const field of Object.keys(made)) {
    const name = NAMED[field];
    if (same(was[field], made[field])) out[field] = other[field];
    else if (!name) out[field] = made[field];
    else {
      const [before, after] = [was, made].map((marks) => new Map(marks[field].map((one) => [name(one), one])));
      const left = new Map(other[field].map((one) => [name(one), one]));
      for (const key of before.keys()) if (!after.has(key)) left.delete(key);
      for (const [key, one] of after) if (!same(before.get(key), one)) left.set(key, one);
      out[field] = [...left.values()];
    }
  }
  return out;
}

// hear(topic): told when something has changed. refuse(words): told what could not be done.
export function newWork({ changed, refuse }) {
  let pending = 0, queue = Promise.resolve();
  let behind = false; // whether what is shown lacks a step back or again that is on its way
  let found = [];
  const work = {
    name: null, size: null, pages: 1, marks: null, revision: 0, undo: "", redo: "", tracing: null, design: null, proposals: [], lacks: "", chosen: null,
    looking: false, // whether it is being traced
    wrong: null, // what was written in a box and refused: {id, text, says}

    views(marks) {
      if (marks.boxes.length) return marks.boxes.map((b) => ({ ...b, byHand: true, found: work.tracing?.views.some((v) => v.kind === b.kind) }));
      return (work.tracing?.views ?? []).map((v) => ({ kind: v.kind, box: v.box_px, nose: v.nose, confidence: v.confidence, byHand: false, found: true }));
    },

    outlines(marks) {
      const byHand = marks.outlines.map((o) => ({ ...o, byHand: true }));
      const taken = new Set(byHand.map(keyOf));
      const left = new Set(marks.left_out);
      return [...byHand, ...found.filter((o) => !taken.has(keyOf(o)))].map((o) => ({ ...o, leftOut: left.has(keyOf(o)) }));
    },

    // What the tracing came to with some marks. The outlines drawn by hand come back with it; only the others were found.
    traced(tracing, marks) {
      work.tracing = tracing;
      const drawn = new Set(marks.outlines.map(keyOf));
      found = (tracing?.outlines ?? []).filter((o) => !drawn.has(keyOf(o))).flatMap((o) => {
        const axes = tracing.views.find((v) => v.kind === o.view)?.axes;
        if (!axes) return [];
        const half = Boolean(o.half_path);
        return [{ part: o.part, view: o.view, name: o.name, half, nodes: nodesOf(half ? o.half_path : o.path, axes), confidence: o.confidence, error: o.fit_error_mm, byHand: false }];
      });
    },

    // The sheet's turn in degrees, as it was said or found.
    turned: () => work.marks.turned_deg ?? work.tracing?.turned_deg,

    withBox(kind, change) {
      const fresh = copy(work.marks);
      if (!fresh.boxes.length) fresh.boxes = (work.tracing?.views ?? []).map((v) => ({ kind: v.kind, box: v.box_px.map((p) => Math.round(p * 10) / 10), nose: v.nose === "toward" ? "" : v.nose }));
      let box = fresh.boxes.find((b) => b.kind === kind);
      if (!box) { box = { kind, box: [0, 0, 0, 0], nose: "" }; fresh.boxes.push(box); }
      change(box, fresh);
      return fresh;
    },

    // Which view a box drawn by hand is meant for: the one it covers most of, or one that is not there yet.
    kindOf(box) {
      const views = work.views(work.marks);
      const shared = ({ box: b }) => Math.max(0, Math.min(b[2], box[2]) - Math.max(b[0], box[0])) * Math.max(0, Math.min(b[3], box[3]) - Math.max(b[1], box[1]));
      const most = views.map((v) => [shared(v) / ((v.box[2] - v.box[0]) * (v.box[3] - v.box[1]) || 1), v.kind]).sort((p, q) => q[0] - p[0])[0];
      if (most?.[0] > 0.4) return most[1];
      return ["top", "side", "front"].find((k) => !views.some((v) => v.kind === k)) ?? most[1];
    },

    withOutline(o, nodes, marks = work.marks) {
      const fresh = copy(marks);
      const key = keyOf(o);
      const made = { part: o.part, view: o.view, name: o.name, half: Boolean(o.half), nodes: nodes.map((n) => ({ x: n.x, y: n.y, before: n.before ?? null, after: n.after ?? null })) };
      const i = fresh.outlines.findIndex((one) => keyOf(one) === key);
      if (i < 0) fresh.outlines.push(made); else fresh.outlines[i] = made;
      fresh.left_out = fresh.left_out.filter((one) => one !== key);
      return fresh;
    },

    // The largest piece keeps the name; each other gets the likeliest one that is free.
    splitInto(o, [largest, ...others]) {
      const likely = o.part === "body" && o.view === "side" ? "fin/side/fin" : o.part === "wing" ? "tail/top/tailplane" : PARTS.find(([key]) => key !== keyOf(o) && key.split("/")[1] === o.view)?.[0] ?? keyOf(o);
      const [part, view, name] = likely.split("/");
      const taken = new Set([keyOf(o), ...work.marks.outlines.map(keyOf)]);
      let fresh = work.withOutline(o, largest);
      for (const [k, nodes] of others.entries()) {
        let called = name;
        for (let n = 2; taken.has(`${part}/${view}/${called}`); n += 1) called = `${name} ${n}`;
        const other = { part, view, name: called, half: o.half && halves(likely) };
        taken.add(keyOf(other));
        fresh = work.withOutline(other, nodes, fresh);
        if (!k) work.chosen = { kind: "outline", key: keyOf(other) };
      }
      work.commit(fresh, `split ${o.name}${others.length > 1 ? ` into ${others.length + 1}` : ""}`);
    },

    // Change the marks: shown at once, kept by the bench before anything else is. When the last change on its way is
    // answered, what the bench has kept is shown: without one that was refused. What was written in a box and is refused
    // stays in it, with the reason. A change made before a step back was answered is made of what that came to.
    commit(marks, label, box) {
      const was = behind ? work.marks : null;
      work.marks = marks;
      work.wrong = null;
      const done = sent(
        () => ({ marks: was ? rebased(was, marks, work.told.marks) : marks, label, since: work.revision }),
        (says) => { if (box) work.wrong = { ...box, says }; else refuse(says); });
      changed("marks");
      return done;
    },

    step(which) {
      behind = true;
      return sent(() => ({ step: which }), refuse);
    },

    // News from the bench.
    take(told) {
      work.told = told;
      work.revision = told.revision;
      Object.assign(work, { undo: told.undo, redo: told.redo });
      if (!pending) { behind = false; work.marks = told.marks; if (told.notice) refuse(told.notice); }
      changed("marks");
    },
    quiet: () => !pending,
  };
  // Ask the bench, after all that was asked before; with the last answer what it has kept is shown.
  function sent(request, refused) {
    pending += 1;
    queue = queue.then(async () => {
      try { await ask({ do: "mark", picture: work.name, ...request() }); } catch (error) { refused(error.says); }
      pending -= 1;
      if (!pending) work.take(work.told);
    });
    return queue;
  }
  return work;
}
