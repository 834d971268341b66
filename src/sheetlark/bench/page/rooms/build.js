// Build: the steps with their pictures, what to buy, and the card for the field.

import { h, put } from "../dom.js";
import { isImperial, spoken } from "../units.js";
import { table } from "../plot.js";
import { errand, kept, listFiles } from "./shared.js";
import { state } from "../state.js";

export function buildRoom() {
  const out = h("div", {});
  const steps = kept("build", draw);
  const work = errand("build", "Work out the steps again", steps.done, { again: true });
  const files = h("div", { class: "files" });
  const papers = () => ({ papers: [(localStorage.getItem("paper") ?? "a4")] });
  const written = kept("written", listFiles(files));
  const book = errand("handbook", "Write the handbook", written.done);
  const pack = errand("pack", "Pack everything into one file", written.done);
  book.options(papers);
  pack.options(papers);

  // The handbook speaks the page's units by itself; only the parts' own notes are in millimetres.
  function draw(result) {
    let chapter = "";
    put(out,
      h("figure", { class: "plotted picture-of-it" }, drawing(result.whole)),
      table("What to buy", ["what", "how much", "for"], result.shopping.map((b) => [b.name, b.amount, b.use])),
      h("h3", {}, "Tools"), h("ul", { class: "notes tools-needed" }, result.tools.map((words) => h("li", {}, words))),
      h("h3", {}, "Step by step"),
      h("ol", { class: "steps" }, result.steps.map((step) => {
        const head = step.chapter !== chapter ? h("p", { class: "chapter" }, step.chapter) : null;
        chapter = step.chapter;
        return h("li", {}, head, h("h4", {}, `${step.number}  ${step.title}`), h("div", { class: "step" }, h("figure", {}, drawing(step.picture)),
          h("div", {}, h("p", { class: "quiet" }, step.parts.join("; ")), step.does.map((words) => h("p", {}, result.notes.includes(words) ? spoken(words) : words)), step.glue ? h("p", { class: "quiet" }, step.glue) : null,
            step.checks.map((words) => h("p", {}, "✓ ", words)), step.cautions.map((words) => h("p", { class: "caution" }, "! ", words)))));
      })),
      h("h3", {}, "For the field"), h("div", { class: "two" }, result.cards.map((card) => h("section", { class: "card" }, h("h4", {}, card.title), card.lines.length ? table(card.title, ["what", "how much"], card.lines.map(([what, much]) => [what, much]), { bare: true }) : null, card.words.map((words) => h("p", { class: "small" }, words))))));
  }
  // The pictures are the bench's own SVG; as images they can hold no script and load nothing.
  const drawing = (text) => h("img", { alt: text.match(/aria-label="([^"]*)"/)?.[1] ?? "", src: URL.createObjectURL(new Blob([text], { type: "image/svg+xml" })) });
  const node = h("section", { class: "computed" }, h("h2", {}, "Build"),
    h("p", { class: "lead" }, "Hot glue burns, and a foam knife cuts to the bone: work without haste, cut away from your hand on a mat, keep children beside a grown-up, and air the room when you glue or paint."),
    h("div", { class: "two" }, h("div", { class: "card" }, h("h3", {}, "Look at the steps"), work.node), h("div", { class: "card" }, h("h3", {}, "On paper, and to give away"), book.node, pack.node, files)), out);
  const fits = ({ revision, result }) => revision === state.revision && (result.units === "imperial") === isImperial();
  return { node, shown: () => { written.again(); if (!steps.again(fits) && state.name) work.runUnlessGoing(); }, close() {} };
}
