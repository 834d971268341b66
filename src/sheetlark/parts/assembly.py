"""Which part is made first, and what gives way to what.

Surfaces are drawn whole. Bought items, struts and fins are let into them; the body is fitted round them; covers
fit between its sides, formers between everything. Each cut is made from the solid of what is let in, so that
two parts agree because one made the other.
"""

from __future__ import annotations

from sheetlark.parts.body import shell_of
from sheetlark.parts.boxing import fit_body, lead_push_rods
from sheetlark.parts.gluing import glue
from sheetlark.parts.grain import follow_grain
from sheetlark.parts.letting_in import fit_layers, let_into_surfaces, motor_plates
from sheetlark.parts.making import Assembly, Fitted
from sheetlark.parts.mounting import bend_wire, fit_braces
from sheetlark.parts.panelling import panel
from sheetlark.parts.standing import stand_fins, stand_struts
from sheetlark.stock import Stock


def assemble(fitted: Fitted, stock: Stock) -> Assembly:
    """All blanks of a model, cut to one another in order.

    Raises
    ------
    GeometryError
        If a part cannot be made.
    """
    made = Assembly(
        fitted=fitted,
        stock=stock,
        panels=[panel(s, stock) for s in fitted.surfaces],
        shell=shell_of(fitted.body) if fitted.body is not None else None,
    )
    made.plates = motor_plates(made)
    let_into_surfaces(made)
    stand_struts(made)
    stand_fins(made)
    fit_layers(made)
    made.wire = bend_wire(made)
    if made.shell is not None:
        fit_body(made, made.shell)
    else:
        fit_braces(made, [])
    glue(made)
    lead_push_rods(made)
    follow_grain(made)
    return made
