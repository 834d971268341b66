"""Papers a plan may be printed on, and a printer's own scale.

Sizes: ISO 216 for A4 and A3; ANSI/ASME Y14.1 and common office practice for Letter, Legal and Tabloid; rolls
in the widths plotters are loaded with (24, 36 and 42 in).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches

from sheetlark.errors import SheetError
from sheetlark.units import LENGTH


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSize:
    """A size of paper, upright. A roll has no height of its own: 0.

    key, name : how a command names it, and how a person does
    """

    key: str
    name: str
    width_mm: float
    height_mm: float


PAPERS: tuple[PaperSize, ...] = (
    PaperSize(key="a4", name="A4", width_mm=210.0, height_mm=297.0),
    PaperSize(key="a3", name="A3", width_mm=297.0, height_mm=420.0),
    PaperSize(key="letter", name="Letter", width_mm=215.9, height_mm=279.4),
    PaperSize(key="legal", name="Legal", width_mm=215.9, height_mm=355.6),
    PaperSize(key="tabloid", name="Tabloid", width_mm=279.4, height_mm=431.8),
    PaperSize(key="roll-24", name="24 in roll", width_mm=609.6, height_mm=0.0),
    PaperSize(key="roll-36", name="36 in roll", width_mm=914.4, height_mm=0.0),
    PaperSize(key="roll-42", name="42 in roll", width_mm=1066.8, height_mm=0.0),
)


def paper_size(key: str) -> PaperSize:
    """The paper of a name.

    Raises
    ------
    SheetError
        If there is no such paper; the message names the nearest and all.
    """
    known = {paper.key: paper for paper in PAPERS}
    wanted = key.strip().lower().replace(" ", "-").replace("_", "-")
    if wanted in known:
        return known[wanted]
    near = get_close_matches(wanted, known, n=1)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise SheetError(f"no paper is called {key!r}; {hint}Papers are {', '.join(known)}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrinterScale:
    """What a printer makes of a millimetre, across the page and along it. [-].

    A printer whose 100 mm bar measures 98.6 mm has a scale of 0.986; the plan is drawn larger by 1 / 0.986.
    """

    across: float = 1.0
    along: float = 1.0

    @property
    def true(self) -> bool:
        return self.across == 1.0 and self.along == 1.0


BAR_MM = 100.0
_MOST = 0.15


def read_measured_bar(text: str) -> PrinterScale:
    """The scale from a measured 100 mm bar: "98.6mm", or "98.6mm x 99.1mm" for the level and the upright bar.

    Raises
    ------
    SheetError
        If it cannot be read, or lies more than 15 % off, where fit-to-page was left on.
    """
    pieces = [piece for piece in re.split(r"\s*[x×]\s*", text.strip()) if piece]
    if len(pieces) not in (1, 2):
        raise SheetError(
            f"a measured bar reads '98.6mm' or '98.6mm x 99.1mm' (level x upright), not {text!r}"
        )
    ratios = []
    for piece in pieces:
        ratio = 1e3 * LENGTH.read(piece) / BAR_MM
        if not 1 - _MOST <= ratio <= 1 + _MOST:
            raise SheetError(
                f"the 100 mm bar was measured as {100 * ratio:.1f} mm, more than 15 % off. "
                f"Print at 100 % ('actual size'), not 'fit to page', and measure again."
            )
        ratios.append(ratio)
    return PrinterScale(across=ratios[0], along=ratios[-1])
