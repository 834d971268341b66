"""The handbook on paper: cover, lists, steps two to a page, setting up, gauges at full size, pocket card."""

from __future__ import annotations

from sheetlark.handbook.book import READING, SAFETY, Handbook
from sheetlark.handbook.gauges import Gauge
from sheetlark.handbook.leaf import TINT, WARN, Leaf
from sheetlark.handbook.settings import Card, balance_aim_m
from sheetlark.handbook.steps import Step
from sheetlark.sheets import paper_size
from sheetlark.sheets.drawing import ACCENT, INK, SOFT, Style
from sheetlark.units import show_length, show_mass, show_speed


def handbook_pdf(book: Handbook, *, paper: str = "a4") -> bytes:
    """The handbook as a PDF; the same model gives the same bytes.

    Raises
    ------
    SheetError
        If there is no such paper.
    """
    leaf = Leaf(
        f"{book.name}: handbook",
        paper_size(paper),
        subject="How to build, set up and fly it. Print gauges at 100 %.",
    )
    _cover(leaf, book)
    _lists(leaf, book)
    _steps(leaf, book)
    _set_up(leaf, book)
    _gauges(leaf, book)
    _cards(leaf, book)
    return leaf.finish()


def _cover(leaf: Leaf, book: Handbook) -> None:
    e = book.evaluation
    imperial = e.design.model.imperial
    leaf.begin()
    leaf.y -= 10
    leaf.words(book.name, size=13, bold=True, after=2)
    designer = f" by {e.design.model.designer}" if e.design.model.designer else ""
    leaf.words(f"Handbook of a flat-sheet model{designer}", size=4.6, colour=SOFT, after=2)
    tall = 0.40 * leaf.paper.height_mm
    leaf.picture(book.build.whole, (leaf.margin, leaf.y - tall, leaf.wide, tall))
    leaf.y -= tall + 4
    r = e.airframe.reference
    rows = [
        ["Span", show_length(r.span_m, imperial), "Ready to fly", f"{show_mass(e.weights.all_up_kg, imperial)} ± {show_mass(float(e.weights.spread[0]), imperial)}"],
        ["Parts", f"{sum(p.count for p in e.kit.parts)}, of {len(e.kit.parts)} kinds", "Steps", str(len(book.build.steps))],
        ["Balance", f"{show_length(float(e.weights.balance_m[0]), imperial)} behind the nose", "Stall", f"{show_speed(e.flight.stall_ms, imperial)}, computed"],
    ]  # fmt: skip
    leaf.table(rows, [22.0, leaf.wide / 2 - 22.0, 28.0, leaf.wide / 2 - 28.0], head=False, size=3.4)
    leaf.y -= 4
    _warning(leaf, "Before you begin", SAFETY)
    if e.design.model.licence:
        leaf.words(f"Licence: {e.design.model.licence}", size=3.0, colour=SOFT)


def _warning(leaf: Leaf, title: str, lines: tuple[str, ...]) -> None:
    size = 3.3
    tall = 7.5 + sum(leaf.height_of(line, wide=leaf.wide - 9, size=size) for line in lines)
    leaf.pen.fill_box(leaf.margin, leaf.y - tall, leaf.wide, tall, WARN)
    leaf.y -= 1.0
    leaf.words(title, x=leaf.margin + 3, size=3.8, bold=True, colour=ACCENT)
    for line in lines:
        top = leaf.y
        leaf.words(line, x=leaf.margin + 6, wide=leaf.wide - 9, size=size)
        leaf.pen.write("•", leaf.margin + 3, top - size * 1.0, size)
    leaf.y -= 3


def _bullets(leaf: Leaf, lines: tuple[str, ...], *, numbered: bool = False) -> None:
    for k, line in enumerate(lines, start=1):
        if leaf.y < leaf.margin + 16:
            leaf.begin()
        top = leaf.y
        leaf.words(line, x=leaf.margin + 6, wide=leaf.wide - 6)
        leaf.pen.write(f"{k}." if numbered else "•", leaf.margin + 1, top - 3.3, 3.3, bold=numbered)


def _lists(leaf: Leaf, book: Handbook) -> None:
    leaf.begin("What you need")
    with_price = any(line.price is not None for line in book.shopping.lines)
    head = ["", "What", "How much", "For"] + (["Price"] if with_price else [])
    widths = [24.0, 58.0, 46.0, leaf.wide - 128.0 - (16.0 if with_price else 0.0)] + (
        [16.0] if with_price else []
    )
    rows, group = [head], ""
    for line in book.shopping.lines:
        row = [line.group if line.group != group else "", line.name, line.amount, line.use]
        if with_price:
            row.append("" if line.price is None else f"{line.price:.2f}")
        rows.append(row)
        group = line.group
    leaf.table(rows, widths)
    leaf.y -= 1.5
    if with_price:
        rest = (
            f"; {book.shopping.without_price} lines without a price in your stock"
            if book.shopping.without_price
            else ""
        )
        leaf.words(f"Together {book.shopping.cost:.2f}{rest}.", size=3.2, bold=True)
    else:
        leaf.words(
            "No prices in the stock: write `price` beside an item in your own stock file, and the cost is summed here.",
            size=2.9,
            colour=SOFT,
        )
    leaf.heading("Tools")
    _bullets(leaf, book.tools)
    if leaf.y < leaf.margin + 12 + sum(leaf.height_of(line, wide=leaf.wide - 6) for line in book.cutting):
        leaf.begin()
    leaf.heading("Cutting out")
    _bullets(leaf, book.cutting, numbered=True)
    if leaf.y < leaf.margin + 34:
        leaf.begin()
    leaf.heading("Reading the pictures")
    _bullets(leaf, READING)


def _steps(leaf: Leaf, book: Handbook) -> None:
    chapter = ""
    room = (leaf.top - leaf.margin - 14) / 2
    slot = 2
    for step in book.build.steps:
        if slot == 2 or step.chapter != chapter:
            leaf.begin(step.chapter)
            if step.chapter != chapter:
                chapter = step.chapter
            slot = 0
            start = leaf.y
        _step(leaf, step, start - slot * (room + 1.5), room)
        slot += 1


def _step(leaf: Leaf, step: Step, top: float, tall: float) -> None:
    leaf.y = top
    leaf.pen.fill_box(leaf.margin, top - 8.0, leaf.wide, 8.0, TINT)
    leaf.pen.write(str(step.number), leaf.margin + 2, top - 6.0, 5.0, bold=True, colour=ACCENT)
    leaf.pen.write(step.title, leaf.margin + 13, top - 5.7, 4.3, bold=True, most_mm=leaf.wide - 16)
    words_wide = 62.0
    picture_wide = leaf.wide - words_wide - 4
    leaf.picture(step.picture, (leaf.margin, top - tall + 1, picture_wide, tall - 10))
    x = leaf.margin + picture_wide + 4
    leaf.y = top - 10
    size = 3.05 if sum(map(len, (*step.does, *step.checks, *step.cautions))) < 720 else 2.75
    parts = ", ".join(
        (f"{number} {name}" if number else name) + (f" × {count}" if count > 1 else "")
        for number, name, count in step.parts
    )
    leaf.words(parts, x=x, wide=words_wide, size=size, bold=True, after=1.5)
    for line in step.does:
        leaf.words(line, x=x, wide=words_wide, size=size)
    leaf.words(step.glue, x=x, wide=words_wide, size=size, colour=ACCENT, after=1.8)
    for line in step.checks:
        y = leaf.y
        leaf.words(line, x=x + 4.5, wide=words_wide - 4.5, size=size)
        leaf.pen.stroke(
            [(x + 0.3, y - 2.3), (x + 1.4, y - 3.6), (x + 3.4, y - 0.9)],
            Style(width_mm=0.45, colour=(0.1, 0.45, 0.2)),
        )
    for line in step.cautions:
        height = leaf.height_of(line, wide=words_wide - 7, size=size) + 1.2
        leaf.pen.fill_box(x, leaf.y - height + 0.4, words_wide, height, WARN)
        leaf.y -= 0.6
        y = leaf.y
        leaf.words(line, x=x + 6, wide=words_wide - 7, size=size, after=1.8)
        leaf.pen.write("!", x + 2.4, y - 3.6, 4.2, bold=True, colour=ACCENT)


def _set_up(leaf: Leaf, book: Handbook) -> None:
    leaf.begin("Covering, motor, radio")
    leaf.heading("Covering")
    _bullets(leaf, book.covering)
    if book.motor:
        leaf.heading("Motor and battery")
        _bullets(leaf, book.motor)
    if book.linkages:
        leaf.heading("Linkages")
        rows = [
            ["Control", "Arm hole", "Horn hole", "Throw", "At the trailing edge", "Servo turns", "Push-rod"],
            *(list(row.cells(book.evaluation.design.model.imperial)) for row in book.linkages),
        ]
        leaf.table(rows, [20.0, 20.0, 21.0, 34.0, 31.0, 25.0, leaf.wide - 151.0])
        leaf.y -= 2
        _bullets(leaf, tuple(f"{row.moves}: {row.says}." for row in book.linkages))
        _bullets(
            leaf,
            (
                (
                    "Centre each servo by the radio before its arm goes on, at right angles to the rod; then set the rod so that the "
                    "surface stands level, by its gauge."
                ),
                "Horns on the hinge line: the holes stand exactly over it.",
            ),
        )
    if book.wiring:
        leaf.heading("Wiring")
        _bullets(leaf, tuple(f"{a} → {b}." for a, b in book.wiring))
        _diagram(leaf, book)


def _diagram(leaf: Leaf, book: Handbook) -> None:
    """Boxes and lines: battery, controller, motor, receiver, servos."""
    e = book.evaluation
    if e.design.drive is None or e.design.radio is None:
        return
    servos = [s.moves + (" × 2" if s.pair else "") for s in e.design.radio.servo]
    tall = max(36.0, 9.0 * len(servos) + 8)
    if leaf.y - tall < leaf.margin + 4:
        leaf.begin()
    mid = leaf.y - tall / 2
    x = leaf.margin
    names = ["battery", "speed controller", "receiver"]
    left = [x, x + 42, x + 92]
    line = Style(width_mm=0.35, colour=INK)
    for name, at in zip(names, left, strict=True):
        _boxed(leaf, name, at, mid)
    leaf.pen.stroke([(x + 32, mid), (x + 42, mid)], Style(width_mm=0.9, colour=ACCENT))
    leaf.pen.stroke([(x + 74, mid), (x + 92, mid)], line)
    _boxed(leaf, "motor", x + 42, mid + 11)
    for k in (-3.0, 0.0, 3.0):
        leaf.pen.stroke([(x + 58 + k, mid + 3.5), (x + 58 + k, mid + 7.5)], line)
    for k, name in enumerate(servos):
        y = mid + (len(servos) - 1) * 4.5 - 9.0 * k
        _boxed(leaf, name, x + 142, y)
        leaf.pen.stroke([(x + 124, mid), (x + 133, mid), (x + 133, y), (x + 142, y)], line)
    leaf.y -= tall + 2


def _boxed(leaf: Leaf, text: str, x: float, y: float) -> None:
    leaf.pen.stroke(
        [(x, y - 3.5), (x + 32, y - 3.5), (x + 32, y + 3.5), (x, y + 3.5)],
        Style(width_mm=0.25, colour=INK),
        closed=True,
    )
    leaf.pen.write(text, x + 16, y - 1.0, 3.0, middle=True, most_mm=29)


def _gauges(leaf: Leaf, book: Handbook) -> None:
    if not book.gauges:
        return
    gauge_pages(leaf, book.gauges)


def gauge_pages(leaf: Leaf, found: tuple[Gauge, ...]) -> None:
    """Gauges at full size, as many to a page as go."""

    def fresh() -> None:
        leaf.begin("Gauges, full size")
        leaf.words("Print at 100 %. Glue to card, cut out along the plain lines.", size=3.1, after=4)
        leaf.bar(leaf.margin, leaf.y - 3)
        leaf.y -= 10

    fresh()
    for gauge in found:
        x0, y0, x1, y1 = gauge.box_mm
        tall = y1 - y0 + leaf.height_of(f"{gauge.name}: {gauge.says}", wide=leaf.wide) + 10
        if leaf.y - tall < leaf.margin + 4:
            fresh()
        leaf.words(gauge.name, size=3.5, bold=True, after=0.4)
        leaf.words(gauge.says, size=3.0, after=3)
        leaf.gauge(gauge, leaf.margin + 2 + (12.0 if x1 - x0 < 40 else 0.0), leaf.y - (y1 - y0) - 2)
        leaf.y -= y1 - y0 + 7


def gauges_pdf(book: Handbook, *, paper: str = "a4") -> bytes:
    """The gauges alone, as part of the plans; empty where a model needs none."""
    if not book.gauges:
        return b""
    leaf = Leaf(
        f"{book.name}: gauges",
        paper_size(paper),
        subject="Gauges at full size. Print at 100 %, never fit to page.",
    )
    gauge_pages(leaf, book.gauges)
    return leaf.finish()


def _cards(leaf: Leaf, book: Handbook) -> None:
    """Eight panels on one page: folded three times it goes into a pocket."""
    leaf.begin()
    wide, tall = leaf.paper.width_mm / 2, leaf.paper.height_mm / 4
    fold = Style(width_mm=0.15, dashes=(2.0, 1.5), colour=SOFT)
    for k in range(1, 4):
        leaf.pen.stroke([(0, k * tall), (leaf.paper.width_mm, k * tall)], fold)
    leaf.pen.stroke([(wide, 0), (wide, leaf.paper.height_mm)], fold)
    pad = 6.0
    for k, card in enumerate(book.cards[:8]):
        x = (k % 2) * wide + pad
        top = leaf.paper.height_mm - (k // 2) * tall - pad
        size = 3.5
        sketch = 30.0 if k == 0 else 18.0 if k == 1 else 0.0
        for smaller in (3.5, 3.3, 3.1, 2.9, 2.7, 2.5, 2.3):
            size = smaller
            if _card_height(leaf, card, wide - 2 * pad, size) <= tall - 2 * pad - sketch:
                break
        leaf.y = top
        leaf.words(card.title, x=x, size=4.4, bold=True, colour=ACCENT, after=0.8)
        for line in card.lines:
            leaf.y -= size * 1.32
            leaf.pen.write(line.what, x, leaf.y + 0.3 * size, size, most_mm=0.62 * (wide - 2 * pad))
            leaf.pen.write(
                line.value,
                x + 0.64 * (wide - 2 * pad),
                leaf.y + 0.3 * size,
                size,
                bold=True,
                most_mm=0.36 * (wide - 2 * pad),
            )
        leaf.y -= 0.8 if card.lines else 0.0
        for words in card.words:
            leaf.words(words, x=x, wide=wide - 2 * pad, size=size, after=0.9)
        low = leaf.paper.height_mm - (k // 2 + 1) * tall + 3.0
        if k == 0:
            leaf.picture(book.build.whole, (x, low, wide - 2 * pad, leaf.y - low))
        elif k == 1:
            _balance_sketch(leaf, book, (x, low, wide - 2 * pad, leaf.y - low))


def _balance_sketch(leaf: Leaf, book: Handbook, box: tuple[float, float, float, float]) -> None:
    """The model from the side, and the place to hold it."""
    x, y, wide, tall = box
    picture = book.build.side
    x0, y0, x1, y1 = picture.box
    scale = min((wide - 8) / (x1 - x0), (tall - 12) / (y1 - y0))
    leaf.picture(picture, (x, y + 4, wide, tall - 4))
    aim = 1e3 * balance_aim_m(book.evaluation)
    # from the starboard side the nose lies to the right: picture x is minus the geometry axis
    at = x + (wide - scale * (x1 - x0)) / 2 + scale * (-aim - x0)
    foot = y + 4 + (tall - 4 - scale * (y1 - y0)) / 2
    leaf.pen.stroke(
        [(at, foot - 0.6), (at - 2.2, foot - 4.2), (at + 2.2, foot - 4.2)],
        Style(width_mm=0.4, colour=ACCENT),
        closed=True,
    )
    leaf.pen.stroke(
        [(at, foot), (at, foot + scale * (y1 - y0))], Style(width_mm=0.25, dashes=(1.6, 1.0), colour=ACCENT)
    )


def _card_height(leaf: Leaf, card: Card, wide: float, size: float) -> float:
    return (
        4.4 * 1.32
        + 1.6
        + len(card.lines) * size * 1.32
        + sum(leaf.height_of(words, wide=wide, size=size, after=0.9) for words in card.words)
    )
