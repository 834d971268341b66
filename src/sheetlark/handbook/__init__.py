"""From the kit to the field: build steps with pictures, lists, gauges, cards, and the pack that holds it all.

Words: an *item* is one copy of a part, or a rod; a *step* puts items on that go on alike; a *gauge* is printed at full
size to set an angle by; a *pack* is one zip to keep or give away.
"""

from sheetlark.handbook.access import Access
from sheetlark.handbook.assembly import Assembly, assembly, assembly_drawing, assembly_pdf, write_assembly
from sheetlark.handbook.book import Handbook, handbook
from sheetlark.handbook.gauges import Gauge, gauges
from sheetlark.handbook.lists import Buy, Shopping, cutting_order, shopping, tools
from sheetlark.handbook.on_paper import gauges_pdf, handbook_pdf
from sheetlark.handbook.order import Placing, Stage, assemblies, build_order, faults, stages, units
from sheetlark.handbook.pack import HandbookFiles, pack_bytes, write_handbook, write_pack
from sheetlark.handbook.pack_changes import changelog, differences
from sheetlark.handbook.page import handbook_html, svg_picture
from sheetlark.handbook.pieces import Contact, Item, Model, take_apart
from sheetlark.handbook.scene import Eye, Label, Picture, Shown, Stroke, draw
from sheetlark.handbook.settings import Card, CardLine, LinkageRow, cards, linkages, wiring
from sheetlark.handbook.steps import Build, Step, build_steps
from sheetlark.handbook.unpack import Opened, open_pack, read_pack

__all__ = [
    "Access",
    "Assembly",
    "Build",
    "Buy",
    "Card",
    "CardLine",
    "Contact",
    "Eye",
    "Gauge",
    "Handbook",
    "HandbookFiles",
    "Item",
    "Label",
    "LinkageRow",
    "Model",
    "Opened",
    "Picture",
    "Placing",
    "Shopping",
    "Shown",
    "Stage",
    "Step",
    "Stroke",
    "assemblies",
    "assembly",
    "assembly_drawing",
    "assembly_pdf",
    "build_order",
    "build_steps",
    "cards",
    "changelog",
    "cutting_order",
    "differences",
    "draw",
    "faults",
    "gauges",
    "gauges_pdf",
    "handbook",
    "handbook_html",
    "handbook_pdf",
    "linkages",
    "open_pack",
    "pack_bytes",
    "read_pack",
    "shopping",
    "stages",
    "svg_picture",
    "take_apart",
    "tools",
    "units",
    "wiring",
    "write_assembly",
    "write_handbook",
    "write_pack",
]
