"""Three-view pictures for the light box, drawn of a design whose shape is known."""

from __future__ import annotations

import io
from functools import lru_cache

from sheetlark.design import starter

PX = 1.0  # pixels a millimetre; a small picture, for speed
SHEET = (940, 1440)
TOP, SIDE, FRONT = (470.0, 90.0), (160.0, 940.0), (470.0, 1280.0)  # the nose's middle in each view


@lru_cache(maxsize=1)
def blank() -> bytes:
    """An empty sheet of the same size, for what is drawn by hand: nothing is found in it, and that soon."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("L", SHEET, 255).save(out, "PNG")
    return out.getvalue()


def smaller(png: bytes) -> bytes:
    """Half the size, for tests that are not about what is found in it."""
    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(png)).resize((SHEET[0] // 2, SHEET[1] // 2), Image.Resampling.LANCZOS).save(
        out, "PNG"
    )
    return out.getvalue()


@lru_cache(maxsize=2)
def three_view(*, dots: bool = False) -> bytes:
    """Dunnock's three views in ink, as its scene draws them; with `dots` only a dot at every corner, so that no
    outline closes anywhere."""
    from PIL import Image, ImageDraw

    from sheetlark.airframe import airframe
    from sheetlark.bench.scene import scene
    from sheetlark.design import loads
    from sheetlark.stock import load_stock

    stock = load_stock()
    design = loads(starter("dunnock"))
    made = scene(design, airframe(design, stock), stock)
    sheet = Image.new("L", SHEET, 255)
    pen = ImageDraw.Draw(sheet)

    def ring(points: list[tuple[float, float]], at: tuple[float, float]) -> None:
        px = [(at[0] + PX * a, at[1] + PX * b) for a, b in points]
        if dots:
            for x, y in px:
                pen.ellipse((x - 3, y - 3, x + 3, y + 3), fill=0)
            return
        pen.polygon(px, fill=255)
        pen.line([*px, px[0]], fill=0, width=2, joint="curve")

    body = made["body"]
    width = body["width"]
    plan = [(-w / 2, x) for x, w in width] + [(w / 2, x) for x, w in reversed(width)]
    top, side, front = TOP, SIDE, FRONT
    flat = [s for s in made["surfaces"] if s["role"] != "fin"]
    ring(plan, top)
    for s in flat:
        half = [(y, x) for x, y, _ in s["line"]]
        ring(half + [(-a, b) for a, b in reversed(half)], top)
    ring([(x, -z) for x, z in body["profile"]], side)
    for s in made["surfaces"]:
        ring([(x, -z) for x, _, z in s["line"]], side)
    ring([(-30, -46), (30, -46), (30, 42), (-30, 42)], front)
    for s in flat:
        half = [(y, -z) for _, y, z in (s["line"][0], max(s["line"], key=lambda p: p[1]))]
        for sign in () if dots else (1, -1):
            pen.line([(front[0] + sign * PX * a, front[1] + PX * b) for a, b in half], fill=0, width=8)
    out = io.BytesIO()
    sheet.save(out, "PNG")
    return out.getvalue()
