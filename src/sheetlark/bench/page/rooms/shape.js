// Shape: the drawing board, the 3-D model, and a control for every number.

import { h, put } from "../dom.js";
import { controlsPane } from "../controls.js";
import { drawingBoard } from "../views.js";
import { modelView } from "../model3d.js";
import { state, watch } from "../state.js";
import { faultLines } from "../panel.js";

export function shapeRoom() {
  const board = drawingBoard();
  const model = modelView();
  board.third.append(model.node, h("figcaption", {}, "3-D, of the real parts"));
  const pane = controlsPane();
  const unread = h("section", { class: "computed", hidden: true });
  const drawn = h("div", { class: "shape" }, board.node, pane.node);
  const node = h("div", {}, unread, drawn);
  // A file that was never a design since it was opened leaves nothing to draw.
  function readable() {
    const nothing = !state.scene;
    unread.hidden = !nothing || !state.faults.length;
    drawn.hidden = nothing;
    if (nothing) put(unread, h("h2", {}, "This file cannot be read as a design yet"), h("ul", { class: "notes" }, faultLines().map((words) => h("li", {}, words))), h("p", { class: "quiet" }, "Mend it in a text editor and save: the page follows by itself. Nothing here changes the file meanwhile."));
  }
  const offs = ["document", "scene"].map((topic) => watch(topic, readable));
  readable();
  return { node, shown: () => board.draw(), close() { offs.forEach((off) => off()); board.close(); model.close(); pane.close(); } };
}
