// Plans: the sheets as they print, and the files to print and cut from.

import { h, put } from "../dom.js";
import { spoken } from "../units.js";
import { errand, kept, listFiles } from "./shared.js";
import { state } from "../state.js";

export function plansRoom() {
  const sheets = h("div", { class: "sheets" });
  const files = h("div", { class: "files" });
  const laid = kept("sheets", drawSheets);
  const layout = errand("sheets", "Lay the parts on sheets again", laid.done, { again: true });
  function drawSheets(result) {
    put(sheets, h("p", { class: "lead" }, h("strong", {}, result.sheets.length === 1 ? "1 sheet" : `${result.sheets.length} sheets`), ", as they will be cut."), result.sheets.map((sheet, i) => h("figure", { class: "sheet-print", style: { width: `${Math.max(30, 100 * sheet.width / Math.max(...result.sheets.map((one) => one.width)))}%` } },
      h("img", { src: URL.createObjectURL(new Blob([sheet.svg], { type: "image/svg+xml" })), alt: `Sheet ${i + 1}: ${sheet.parts} pieces on ${sheet.name}` }),
      h("figcaption", {}, `${sheet.name}, ${spoken(`${Math.round(sheet.width)} × ${Math.round(sheet.height)} mm`)}, ${Math.round(100 * sheet.used)} % used`))));
  }
  const a4 = h("input", { type: "checkbox", id: "paper-a4", checked: true });
  const letter = h("input", { type: "checkbox", id: "paper-letter" });
  const bar = h("input", { type: "text", id: "bar", placeholder: "100 mm", size: "9", autocomplete: "off" });
  const written = kept("plans", listFiles(files));
  const write = errand("plans", "Write the plans", written.done);
  write.options(() => ({ papers: [a4.checked && "a4", letter.checked && "letter"].filter(Boolean), bar: bar.value }));
  const node = h("section", { class: "plans" }, h("h2", {}, "Plans"),
    h("p", { class: "lead" }, "Print at 100 %, then lay a ruler on the check bar before you cut. A knife for foam board is very sharp: cut away from your hand, on a mat."),
    h("div", { class: "two" },
      h("div", { class: "card" }, h("h3", {}, "Look at the sheets"), layout.node),
      h("div", { class: "card" }, h("h3", {}, "Files to print and cut"),
        h("div", { class: "ticks" }, h("label", {}, a4, "tiled on A4"), h("label", {}, letter, "tiled on Letter")),
        h("div", { class: "row" }, h("label", { for: "bar" }, "check bar measures"), bar),
        h("p", { class: "help" }, "What the 100 mm bar measures on your own print; leave empty the first time."),
        write.node, files)),
    sheets);
  function shown() {
    written.again();
    if (!laid.again((have) => have.revision === state.revision) && state.name) layout.runUnlessGoing();
  }
  return { node, shown, close() {} };
}
