"""The body as a placed shape: its side profile, its width along the length, its formers and decks."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from sheetlark.design import Body, Deck, Former, Paper, SheetChoice
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats, polygon, read_path
from sheetlark.stock import Stock


@dataclass(frozen=True, slots=True, kw_only=True)
class FormerStation:
    """A former: where it stands and what it spans, outside of the sides.

    x_m, bottom_m, top_m, width_m : station, profile heights and outside width there [m]
    opening : width of its opening as a share of the former's width
    """

    x_m: float
    bottom_m: float
    top_m: float
    width_m: float
    opening: float
    sheet: str


@dataclass(frozen=True, kw_only=True, eq=False)
class BodyShape:
    """The box body.

    stated : the design's table
    thickness_m : of its sheet
    """

    stated: Body
    sheet: str
    paper: Paper
    thickness_m: float

    @cached_property
    def profile_mm(self) -> Floats:
        """Closed side profile, shape (n, 2) of (x, z). [mm]."""
        return read_path(self.stated.profile).sample()

    @cached_property
    def nose_m(self) -> float:
        return float(self.profile_mm[:, 0].min()) * 1e-3

    @cached_property
    def tail_m(self) -> float:
        return float(self.profile_mm[:, 0].max()) * 1e-3

    @property
    def length_m(self) -> float:
        return self.tail_m - self.nose_m

    @cached_property
    def side_area_m2(self) -> float:
        return float(polygon(self.profile_mm, "body profile").area) * 1e-6

    def width_m(self, x_m: float | Floats) -> Floats:
        """Full outside width at stations, held beyond the first and last. [m]."""
        stations = np.array(self.stated.width)
        return np.asarray(np.interp(x_m, stations[:, 0], stations[:, 1]), dtype=np.float64)

    def heights_m(self, x_m: float) -> tuple[float, float]:
        """Lowest and highest point of the profile at a station. [m].

        Raises
        ------
        GeometryError
            If the station lies outside the profile.
        """
        if not self.nose_m - 1e-9 <= x_m <= self.tail_m + 1e-9:
            raise GeometryError(
                f"station {x_m * 1e3:.1f} mm lies outside the body, which runs from {self.nose_m * 1e3:.1f} "
                f"to {self.tail_m * 1e3:.1f} mm"
            )
        low, high = self.heights_along(np.array([x_m]))
        return float(low[0]), float(high[0])

    def heights_along(self, x_m: Floats) -> tuple[Floats, Floats]:
        """Lowest and highest point of the profile at stations, each of shape (n,); held beyond the ends. [m]."""
        inset = 1e-6 * self.length_m
        x = 1e3 * np.minimum(np.maximum(x_m, self.nose_m + inset), self.tail_m - inset)[:, None]
        x0, z0, x1, z1 = self._edges
        crosses = (x0 - x) * (x1 - x) <= 0
        z = z0 + (x - x0) / (x1 - x0) * (z1 - z0)
        return (
            np.where(crosses, z, np.inf).min(axis=1) * 1e-3,
            np.where(crosses, z, -np.inf).max(axis=1) * 1e-3,
        )

    @cached_property
    def _edges(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Both ends (x, z) of every edge of the profile that does not stand upright. [mm]."""
        p = self.profile_mm
        q = np.roll(p, -1, axis=0)
        slanted = np.abs(q[:, 0] - p[:, 0]) > 1e-12
        (x0, z0), (x1, z1) = p[slanted].T, q[slanted].T
        return x0, z0, x1, z1

    @cached_property
    def formers(self) -> tuple[FormerStation, ...]:
        found = []
        for former in sorted(self.stated.former, key=lambda f: f.at):
            bottom, top = self.heights_m(former.at)
            found.append(
                FormerStation(
                    x_m=former.at,
                    bottom_m=bottom,
                    top_m=top,
                    width_m=float(self.width_m(former.at)),
                    opening=former.opening,
                    sheet=former.sheet or self.sheet,
                )
            )
        return tuple(found)

    @cached_property
    def decks(self) -> tuple[Deck, ...]:
        return tuple(d for d in (self.stated.fore_deck, self.stated.aft_deck) if d is not None)

    def sections(self, count: int = 41) -> tuple[Floats, Floats, Floats, Floats]:
        """(x, width, bottom, top) along the length, each of shape (count,). [m]."""
        x = np.linspace(self.nose_m, self.tail_m, count)
        bottom, top = self.heights_along(x)
        return x, self.width_m(x), bottom, top

    def touches(self, x0_m: float, x1_m: float, z_m: float, *, within_m: float) -> bool:
        """Whether a chord line from x0 to x1 at a height lies in or on the body, to within a distance."""
        lo, hi = max(x0_m, self.nose_m), min(x1_m, self.tail_m)
        if hi - lo < min(0.01, 0.1 * (x1_m - x0_m)):
            return False
        bottom, top = self.heights_along(np.linspace(lo, hi, 9))
        if ((bottom - within_m <= z_m) & (z_m <= top + within_m)).any():
            return True
        return any(
            deck.start <= x1_m
            and deck.end >= x0_m
            and z_m <= self.heights_m(min(max(lo, deck.start), hi))[1] + deck.tallest + within_m
            and z_m >= self.heights_m(min(max(lo, deck.start), hi))[0] - within_m
            for deck in self.decks
        )


@lru_cache(maxsize=64)
def body_shape(body: Body | None, choice: SheetChoice, stock: Stock) -> BodyShape | None:
    """The placed body, or None where the design has none.

    Raises
    ------
    GeometryError
        If the profile crosses itself, a former or deck lies outside it, or a width leaves no room between
        the sides; carries the place in the design.
    """
    if body is None:
        return None
    sheet = body.sheet or choice.stock
    shape = BodyShape(
        stated=body,
        sheet=sheet,
        paper=body.paper or choice.paper,
        thickness_m=stock.sheet(sheet).thickness_m,
    )
    try:
        _ = shape.side_area_m2
    except GeometryError as error:
        raise GeometryError(str(error), ("body", "profile")) from None
    for i, former in enumerate(body.former):
        _check_former(shape, former, ("body", "former", i, "at"))
    places = [station.x_m for station in shape.formers]
    for a, b in itertools.pairwise(places):
        if b - a < shape.thickness_m:
            raise GeometryError(
                f"two formers stand at {1e3 * a:.1f} and {1e3 * b:.1f} mm, closer than the sheet is thick",
                ("body", "former"),
            )
    for name, deck in (("fore_deck", body.fore_deck), ("aft_deck", body.aft_deck)):
        if deck is None:
            continue
        if deck.end - deck.start < 0.01:
            raise GeometryError("a deck's end must lie at least 10 mm behind its start", ("body", name))
        if deck.start < shape.nose_m - 1e-9 or deck.end > shape.tail_m + 1e-9:
            raise GeometryError(
                f"the deck runs from {1e3 * deck.start:.1f} to {1e3 * deck.end:.1f} mm, beyond the body's "
                f"{1e3 * shape.nose_m:.1f} to {1e3 * shape.tail_m:.1f} mm",
                ("body", name),
            )
    return shape


def _check_former(shape: BodyShape, former: Former, where: tuple[str | int, ...]) -> None:
    try:
        bottom, top = shape.heights_m(former.at)
    except GeometryError as error:
        raise GeometryError(str(error), where) from None
    if top - bottom < 2 * shape.thickness_m:
        raise GeometryError(
            f"the body is only {1e3 * (top - bottom):.1f} mm tall at {1e3 * former.at:.1f} mm; a former there "
            f"has no room. Move it towards the middle or leave it out.",
            where,
        )
    width = float(shape.width_m(former.at))
    if width < 3 * shape.thickness_m:
        raise GeometryError(
            f"the body is only {1e3 * width:.1f} mm wide at {1e3 * former.at:.1f} mm; two sides of "
            f"{1e3 * shape.thickness_m:.1f} mm leave no former. Widen the body there or leave the former out.",
            where,
        )
