// Plans: the sheets as they print, and the files to print and cut from.

import { h, put } from "../dom.js";
import { drawer } from "../designs.js";
import { spoken } from "../units.js";
import { errand } from "./shared.js";
import { state } from "../state.js";

export function plansRoom() {
  const sheets = h("div", { class: "sheets" });
  const files = h("div", { class: "files" });
  const layout = errand("sheets", "Lay the parts on sheets again", (result, about) => {
    about.drawer.set("sheets", { revision: about.revision, result });
    if (about.name === state.name) drawSheets(result);
  }, { again: true });
  function drawSheets(result) {
    put(sheets, h("p", { class: "lead" }, h("strong", {}, result.sheets.length === 1 ? "1 sheet" : `${result.sheets.length} sheets`), ", as they will be cut."), result.sheets.map((sheet, i) => h("figure", { class: "sheet-print", style: { width: `${Math.max(30, 100 * sheet.width / Math.max(...result.sheets.map((one) => one.width)))}%` } },
      h("img", { src: URL.createObjectURL(new Blob([sheet.svg], { type: "image/svg+xml" })), alt: `Sheet ${i + 1}: ${sheet.parts} pieces on ${sheet.name}` }),
      h("figcaption", {}, `${sheet.name}, ${spoken(`${Math.round(sheet.width)} × ${Math.round(sheet.height)} mm`)}, ${Math.round(100 * sheet.used)} % used`))));
  }
  const a4 = h("input", { type: "checkbox", id: "paper-a4", checked: true });
  const letter = h("input", { type: "checkbox", id: "paper-letter" });
  const bar = h("input", { type: "text", id: "bar", placeholder: "100 mm", size: "9", autocomplete: "off" });
  const write = errand("plans", "Write the plans", (result, about) => {
    about.drawer.set("plans", result);
    if (about.name === state.name) drawFiles(result);
  });
  function drawFiles(result) {
    put(files, h("h3", {}, `Written to ${result.folder}`), h("ul", {}, result.links.map((link) => h("li", {}, h("a", { href: link.href, download: link.name }, link.name)))));
  }
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
    if (!state.name) return;
    if (drawer().has("plans")) drawFiles(drawer().get("plans"));
    const kept = drawer().get("sheets");
    if (kept?.revision === state.revision) drawSheets(kept.result); else layout.runUnlessGoing();
  }
  return { node, shown, close() {} };
}
