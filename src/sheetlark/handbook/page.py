"""The handbook as one page for a browser: everything inside it, nothing asked from anywhere."""

from __future__ import annotations

import base64
import hashlib
import html
import json
from importlib import resources

import numpy as np

from sheetlark.handbook.book import READING, SAFETY, Handbook
from sheetlark.handbook.mesh import STEP_MM, meshes, packed
from sheetlark.handbook.scene import Picture
from sheetlark.handbook.steps import Step
from sheetlark.units import show_length, show_mass

_COLOURS = {
    "wing": (0.93, 0.90, 0.80),
    "tail": (0.88, 0.90, 0.84),
    "fin": (0.88, 0.90, 0.84),
    "body": (0.86, 0.89, 0.93),
    "strut": (0.90, 0.86, 0.84),
    "drive": (0.85, 0.74, 0.58),
    "gear": (0.62, 0.64, 0.67),
}
_ROD = (0.32, 0.33, 0.36)

_STYLE = """
:root{--ink:#16161a;--soft:#66666c;--paper:#faf9f6;--tint:#efede7;--accent:#b32114;--warn:#fdeee4;--tape:#1a4d99;--ok:#1d6b35}
@media (prefers-color-scheme:dark){:root{--ink:#ececea;--soft:#a3a3a8;--paper:#17181a;--tint:#232427;--accent:#f08573;--warn:#3a2620;--tape:#8ab4f8;--ok:#7bc795}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 "DejaVu Sans Condensed","Segoe UI",system-ui,sans-serif}
main{max-width:62rem;margin:0 auto;padding:1rem 1.2rem 4rem}
h1{font-size:2.6rem;line-height:1.1;margin:.8rem 0 .2rem}h2{border-bottom:2px solid var(--accent);padding-bottom:.2rem;margin:2.4rem 0 .8rem}
h3{margin:0 0 .4rem}.soft{color:var(--soft)}
table{border-collapse:collapse;width:100%}td,th{text-align:left;padding:.25rem .6rem;vertical-align:top}tr:nth-child(odd) td{background:var(--tint)}
.warn{background:var(--warn);padding:.6rem 1rem;border-left:4px solid var(--accent);margin:.6rem 0}
#view{width:100%;height:min(64vh,34rem);display:block;border:1px solid var(--soft);touch-action:none;cursor:grab}
#view:focus-visible{outline:3px solid var(--accent)}
.knobs{display:flex;gap:1.5rem;flex-wrap:wrap;align-items:center;margin:.5rem 0}.knobs label{flex:1 1 14rem}.knobs input{width:100%}
.step{display:grid;grid-template-columns:minmax(0,3fr) minmax(0,2fr);gap:1.2rem;padding:1rem 0;border-top:1px solid var(--tint);break-inside:avoid}
.step svg{width:100%;height:auto;max-height:24rem;background:#fff}
.check::before{content:"\\2713  ";color:var(--ok);font-weight:bold}.glue{color:var(--accent)}
.cards{display:grid;grid-template-columns:repeat(auto-fill,minmax(17rem,1fr));gap:.8rem}.card{border:1px solid var(--soft);padding:.7rem .9rem}
.card dl{display:grid;grid-template-columns:auto auto;gap:0 .8rem;margin:.2rem 0}.card dt,.card dd{margin:0}.card dd{font-weight:bold}
button{font:inherit;padding:.15rem .6rem}
@media (max-width:46rem){.step{grid-template-columns:1fr}}
@media print{.knobs,#view,button{display:none}}
"""

_WIDTHS = {"there": 0.16, "new": 0.32, "glue": 0.6, "tape": 0.7, "move": 0.16, "leader": 0.13}
_INKS = {
    "there": "#737378",
    "new": "#141419",
    "glue": "#b32114",
    "tape": "#1a4d99",
    "move": "#737378",
    "leader": "#141419",
}
_DASHES = {"glue": "0.9 0.9", "tape": "2.4 0.9", "move": "1.2 0.9"}


def svg_picture(picture: Picture, *, wide_mm: float = 110.0, tall_mm: float = 90.0, title: str = "") -> str:
    """A line picture as SVG text, fitted into a box."""
    x0, y0, x1, y1 = picture.box
    scale = min((wide_mm - 8) / max(x1 - x0, 1.0), (tall_mm - 8) / max(y1 - y0, 1.0), 1.0)
    wide, tall = scale * (x1 - x0) + 8, scale * (y1 - y0) + 8

    def at(p: tuple[float, float]) -> tuple[float, float]:
        return scale * (p[0] - x0) + 4, tall - 4 - scale * (p[1] - y0)

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.1f} {tall:.1f}" role="img" aria-label="{html.escape(title)}">'
    ]
    for weight in ("there", "new", "move", "glue", "tape"):
        runs = []
        for stroke in picture.strokes:
            if stroke.weight == weight:
                points = [at((float(x), float(y))) for x, y in stroke.points]
                runs.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points))
        if runs:
            dash = f' stroke-dasharray="{_DASHES[weight]}"' if weight in _DASHES else ""
            out.append(
                f'<path d="{"".join(runs)}" fill="none" stroke="{_INKS[weight]}" stroke-width="{_WIDTHS[weight]}" '
                f'stroke-linejoin="round"{dash}/>'
            )
    from sheetlark.handbook.leaf import beside, spread

    spots = [np.array(at(label.points_to)) for label in picture.labels]
    for label, spot, place in zip(
        picture.labels,
        spots,
        spread(beside(spots, [scale * label.room_mm for label in picture.labels])),
        strict=True,
    ):
        if float(np.hypot(*(place - spot))) > 0.6:
            out.append(
                f'<path d="M{spot[0]:.2f} {spot[1]:.2f}L{place[0]:.2f} {place[1]:.2f}" stroke="#141419" stroke-width=".13"/>'
            )
        out.append(
            f'<circle cx="{place[0]:.2f}" cy="{place[1]:.2f}" r="2.25" fill="#fff" stroke="#141419" stroke-width=".18"/>'
            f'<text x="{place[0]:.2f}" y="{place[1] + 0.95:.2f}" font-size="2.6" font-weight="bold" text-anchor="middle" '
            f'fill="#141419">{html.escape(label.text)}</text>'
        )
    out.append("</svg>")
    return "".join(out)


def handbook_html(book: Handbook) -> str:
    """The handbook as a self-contained page with a 3-D view; the same model gives the same text."""
    script = (resources.files("sheetlark.handbook") / "view.js").read_text("utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    e = book.evaluation
    name = html.escape(book.name)
    imperial = e.design.model.imperial
    facts = [
        ("span", show_length(e.airframe.reference.span_m, imperial)),
        ("ready to fly", f"{show_mass(e.weights.all_up_kg, imperial)} ± {show_mass(float(e.weights.spread[0]), imperial)}"),
        ("parts", str(sum(p.count for p in e.kit.parts))),
        ("steps", str(len(book.build.steps))),
    ]  # fmt: skip
    body = [
        f"<h1>{name}</h1>",
        f'<p class="soft">Handbook of a flat-sheet model{" by " + html.escape(e.design.model.designer) if e.design.model.designer else ""}. '
        + " · ".join(f"{k} <b>{html.escape(v)}</b>" for k, v in facts)
        + "</p>",
        _view(book),
        '<section class="warn"><h3>Before you begin</h3>' + _list(SAFETY) + "</section>",
        "<h2>What you need</h2>" + _shopping(book),
        "<h3>Tools</h3>" + _list(book.tools),
        "<h3>Cutting out</h3>" + _list(book.cutting, ordered=True),
        "<h3>Reading the pictures</h3>" + _list(READING),
    ]
    chapter = ""
    for step in book.build.steps:
        if step.chapter != chapter:
            chapter = step.chapter
            body.append(f"<h2>{html.escape(chapter)}</h2>")
        body.append(_step(step))
    body.append("<h2>Covering, motor, radio</h2><h3>Covering</h3>" + _list(book.covering))
    if book.motor:
        body.append("<h3>Motor and battery</h3>" + _list(book.motor))
    if book.linkages:
        body.append("<h3>Linkages</h3>" + _linkages(book))
    if book.wiring:
        body.append("<h3>Wiring</h3>" + _list(tuple(f"{a} → {b}." for a, b in book.wiring)))
    body.append(
        '<h2>Field card</h2><div class="cards">'
        + "".join(_card(book, k) for k in range(len(book.cards)))
        + "</div>"
    )
    if e.design.model.licence:
        body.append(f'<p class="soft">Licence: {html.escape(e.design.model.licence)}</p>')
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="referrer" content="no-referrer">'
        f"<title>{name}: handbook</title><style>{_STYLE}</style></head>\n<body><main>\n"
        + "\n".join(body)
        + f'\n</main>\n<script type="application/json" id="model-data">{_data(book)}</script>\n<script>{script}</script></body></html>\n'
    )


def _list(lines: tuple[str, ...], *, ordered: bool = False) -> str:
    tag = "ol" if ordered else "ul"
    return f"<{tag}>" + "".join(f"<li>{html.escape(line)}</li>" for line in lines) + f"</{tag}>"


def _view(book: Handbook) -> str:
    steps = len(book.build.steps)
    return (
        '<canvas id="view" tabindex="0" role="img" aria-label="The model in three dimensions. Drag or use the arrow keys to turn it, '
        'wheel or plus and minus to come nearer, Home to begin anew."></canvas>'
        '<div class="knobs">'
        f'<label>build up to step <input id="up-to" type="range" min="1" max="{steps}" value="{steps}"></label>'
        '<label>pull apart <input id="apart" type="range" min="0" max="100" value="0"></label></div>'
        '<p id="view-says" class="soft" aria-live="polite">Drag to turn, wheel to come nearer, shift and drag to move.</p>'
    )


def _data(book: Handbook) -> str:
    way_of: dict[int, list[float]] = {}
    for step in book.build.steps:
        for index, way in zip(step.items, step.ways, strict=True):
            way_of[index] = [round(w, 3) for w in way]
    first: dict[int, int] = {}
    for step in book.build.steps:
        for index in (*step.items, *step.onto):
            first.setdefault(index, step.number)
    items = []
    for mesh in meshes(book.build.model):
        item = mesh.item
        colour = _COLOURS.get(item.part.group, _ROD) if item.part is not None else _ROD
        items.append(
            {
                "t": packed(mesh.triangles),
                "e": packed(mesh.edges),
                "s": first.get(item.index, 1),
                "w": way_of.get(item.index, [0, 0, 0]),
                "c": [round(float(v), 1) for v in item.centre],
                "k": list(colour),
            }
        )
    made = {
        "name": book.name,
        "step": STEP_MM,
        "steps": len(book.build.steps),
        "titles": [step.title for step in book.build.steps],
        "items": items,
    }
    # a "<" in a name must not end the script element it stands in
    return json.dumps(made, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c")


def _shopping(book: Handbook) -> str:
    rows = "".join(
        f"<tr><td>{html.escape(line.group)}</td><td>{html.escape(line.name)}</td><td>{html.escape(line.amount)}</td>"
        f"<td>{html.escape(line.use)}</td><td>{'' if line.price is None else f'{line.price:.2f}'}</td></tr>"
        for line in book.shopping.lines
    )
    total = (
        f"<p>Together <b>{book.shopping.cost:.2f}</b>; {book.shopping.without_price} lines without a price in the stock.</p>"
        if book.shopping.cost
        else ""
    )
    return (
        f"<table><tr><th></th><th>What</th><th>How much</th><th>For</th><th></th></tr>{rows}</table>{total}"
    )


def _step(step: Step) -> str:
    parts = ", ".join(
        html.escape((f"{n} {name}" if n else name) + (f" × {count}" if count > 1 else ""))
        for n, name, count in step.parts
    )
    words = [
        f'<h3><label><input type="checkbox" data-step="{step.number}"> {step.number}. {html.escape(step.title)}</label></h3>'
    ]
    words.append(f"<p><b>{parts}</b></p>")
    words += [f"<p>{html.escape(line)}</p>" for line in step.does]
    words.append(f'<p class="glue">{html.escape(step.glue)}</p>')
    words += [f'<p class="check">{html.escape(line)}</p>' for line in step.checks]
    words += [f'<p class="warn">{html.escape(line)}</p>' for line in step.cautions]
    words.append(f'<button type="button" data-show="{step.number}">show in 3-D</button>')
    picture = svg_picture(step.picture, title=f"step {step.number}: {step.title}")
    return f'<section class="step" id="step-{step.number}"><div>{picture}</div><div>{"".join(words)}</div></section>'


def _linkages(book: Handbook) -> str:
    rows = []
    for row in book.linkages:
        cells = (*row.cells(book.evaluation.design.model.imperial), row.says)
        rows.append("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in cells) + "</tr>")
    head = "".join(
        f"<th>{h}</th>"
        for h in (
            "Control",
            "Arm hole",
            "Horn hole",
            "Throw",
            "Trailing edge",
            "Servo turns",
            "Push-rod",
            "Holes",
        )
    )
    return f"<table><tr>{head}</tr>{''.join(rows)}</table>"


def _card(book: Handbook, number: int) -> str:
    card = book.cards[number]
    lines = "".join(
        f"<dt>{html.escape(line.what)}</dt><dd>{html.escape(line.value)}</dd>" for line in card.lines
    )
    words = "".join(f"<p>{html.escape(w)}</p>" for w in card.words)
    return f'<section class="card"><h3>{html.escape(card.title)}</h3>{f"<dl>{lines}</dl>" if lines else ""}{words}</section>'
