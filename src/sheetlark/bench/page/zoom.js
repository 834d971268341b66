// Closer and further on a drawing: wheel, two fingers, keys and buttons; the drawing's own units stay what they are.

import { h } from "./dom.js";

const MOST = 40;

// svg: the drawing. fitted(): {x, y, width, height} that shows all of it. redraw(): after a change.
// takes(event): whether a finger put down here moves the paper. interrupt(): a second finger ends what the first began.
export function zoomable(svg, { fitted, redraw, takes = () => true, interrupt = () => {} }) {
  let close = null; // {k, x, y}: how much closer, and what lies in the middle; null shows all
  let pan = null;
  let asked = false;
  const fingers = new Map();
  const soon = () => { svg.classList.toggle("closer", Boolean(close)); if (!asked) { asked = true; requestAnimationFrame(() => { asked = false; redraw(); }); } };

  function box() {
    const all = fitted();
    if (!close) return { ...all, k: 1 };
    const [width, height] = [all.width / close.k, all.height / close.k];
    return { x: close.x - width / 2, y: close.y - height / 2, width, height, k: close.k };
  }

  function set(k, x, y) {
    const all = fitted();
    if (k <= 1.001) { close = null; soon(); return; }
    const [w, t] = [all.width / k / 2, all.height / k / 2];
    close = { k, x: Math.min(all.x + all.width - w, Math.max(all.x + w, x)), y: Math.min(all.y + all.height - t, Math.max(all.y + t, y)) };
    soon();
  }

  // Closer by a factor, with the point `at` (in the drawing's units) staying where it is on the screen.
  function by(factor, at) {
    const now = box();
    const k = Math.min(MOST, Math.max(1, now.k * factor));
    const [cx, cy] = [now.x + now.width / 2, now.y + now.height / 2];
    const [px, py] = at ?? [cx, cy];
    const held = now.k / k;
    set(k, px + (cx - px) * held, py + (cy - py) * held);
  }

  function move(du, dv) {
    const now = box();
    set(now.k, now.x + now.width / 2 + du, now.y + now.height / 2 + dv);
  }

  // From what it is to show, not from what was last painted: fingers move more often than the screen does.
  function place(x, y) {
    const [now, on] = [box(), svg.getBoundingClientRect()];
    return [now.x + (x - on.left - svg.clientLeft) / svg.clientWidth * now.width, now.y + (y - on.top - svg.clientTop) / svg.clientHeight * now.height];
  }

  svg.addEventListener("wheel", (event) => {
    if (event.deltaY > 0 && !close && !event.ctrlKey) return; // nothing to move away from: the page scrolls
    event.preventDefault();
    by(Math.exp(-Math.max(-120, Math.min(120, event.deltaY)) * (event.ctrlKey ? 0.01 : 0.0025)), place(event.clientX, event.clientY));
  }, { passive: false });

  // Heard on the way in, so that a finger put down on a handle counts as well.
  svg.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (fingers.size === 2) { pan = null; interrupt(); return; }
    if (event.button === 1 || (event.button === 0 && close && takes(event))) {
      pan = [event.clientX, event.clientY];
      if (event.button === 1) event.preventDefault();
    }
  }, true);

  // Two fingers are ours; what one finger does up and down may be the page's.
  for (const kind of ["touchstart", "touchmove"]) svg.addEventListener(kind, (event) => { if (event.touches.length > 1 && event.cancelable) event.preventDefault(); }, { passive: false });

  function moved(event) {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    if (fingers.size === 2) {
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      const apart = ([a, b]) => Math.hypot(a - other[0], b - other[1]);
      const middle = ([a, b]) => place((a + other[0]) / 2, (b + other[1]) / 2);
      const [from, to] = [middle(before), middle(now)];
      move(from[0] - to[0], from[1] - to[1]);
      by(apart(now) / Math.max(1, apart(before)), middle(now));
    } else if (pan) {
      const [from, to] = [place(...before), place(...now)];
      move(from[0] - to[0], from[1] - to[1]);
    }
    fingers.set(event.pointerId, now);
  }
  function ended(event) { fingers.delete(event.pointerId); if (!fingers.size) pan = null; }
  addEventListener("pointermove", moved);
  addEventListener("pointerup", ended);
  addEventListener("pointercancel", ended);

  // Keys on the drawing itself; whatever is on it may use the arrows for its own ends.
  svg.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "+" || event.key === "=") by(1.5);
    else if (event.key === "-") by(1 / 1.5);
    else if (event.key === "0") set(1, 0, 0);
    else if (event.target === svg && !event.defaultPrevented && event.key.startsWith("Arrow") && close) {
      const step = box().width * 0.1;
      move({ ArrowLeft: -step, ArrowRight: step }[event.key] ?? 0, { ArrowUp: -step, ArrowDown: step }[event.key] ?? 0);
    } else return;
    event.preventDefault();
  });

  return {
    keep: () => close, found: (kept) => { close = kept ?? null; svg.classList.toggle("closer", Boolean(close)); },
    box, by, fit: () => set(1, 0, 0), closer: () => box().k > 1,
    close() { removeEventListener("pointermove", moved); removeEventListener("pointerup", ended); removeEventListener("pointercancel", ended); },
  };
}

// The three buttons; `of()` gives the drawings they work on.
export function zoomButtons(of) {
  const each = (work) => () => { for (const one of of()) work(one); };
  return h("div", { class: "choice zoom", role: "group", "aria-label": "How close" },
    h("button", { type: "button", "aria-label": "Further", title: "Further (−)", onclick: each((one) => one.by(1 / 1.5)) }, "−"),
    h("button", { type: "button", "aria-label": "Closer", title: "Closer (+); the wheel or two fingers do it too", onclick: each((one) => one.by(1.5)) }, "+"),
    h("button", { type: "button", title: "Show all of it (0)", onclick: each((one) => one.fit()) }, "Fit"));
}
