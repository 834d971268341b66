// Shape: the drawing board, the 3-D model, and a control for every number.

import { h } from "../dom.js";
import { controlsPane } from "../controls.js";
import { drawingBoard } from "../views.js";
import { modelView } from "../model3d.js";

export function shapeRoom() {
  const board = drawingBoard();
  const model = modelView();
  board.third.append(model.node, h("figcaption", {}, "3-D, of the real parts"));
  const pane = controlsPane();
  const node = h("div", { class: "shape" }, board.node, pane.node);
  return { node, shown: () => board.draw(), close() { board.close(); model.close(); pane.close(); } };
}
