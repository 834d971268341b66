"""From outlines to a starting design: a valid design file, and the simplifications a flat-sheet builder makes.

Every figure here is a beginning, not a verdict: `review` says what it is worth. Where a trade proportion is used
it is common practice, no source, and says so.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property

from sheetlark.beside import Helpers
from sheetlark.errors import PictureError, SheetlarkError
from sheetlark.trace.model import Proposal, Tracing
from sheetlark.trace.starting.balancing import balanced
from sheetlark.trace.starting.draft import SETTLED, Choice, Draft, Look, Structure
from sheetlark.trace.starting.equipping import size_for
from sheetlark.trace.starting.fitting_out import with_rods
from sheetlark.trace.starting.layout import Layout
from sheetlark.trace.starting.mending import mended, remedied_once, turns_free
from sheetlark.trace.starting.simplifying import SIMPLIFICATIONS, YAW_WANTED, begun, proposing

LOADING_G_DM2 = 28.0  # a first guess at all-up mass over wing area; common practice, no source
SHEETS = ("foam-board-5", "foam-board-5-craft")
RODS = (("carbon-strip-6x1",), ("carbon-tube-4", "carbon-tube-4"))
STRETCHES = (1.15, 1.3, 1.5, 1.75, 2.0)  # in height, of a fin that is too small
FAR_MM = 100.0  # off its balance, more than rounds of laying out bring a battery nearer
SKID_STEPS = 2  # of those, taken for tidy turns alone


@dataclass(frozen=True, kw_only=True, eq=False)
class StartingDesign:
    """A design file's text, with the simplifications proposed on the way.

    says : why it cannot be evaluated as it is, where it cannot
    structure : what its wings are made of, spars and sheet
    propose : what finds `proposals` when they are first asked for
    """

    toml: str
    says: str = ""
    structure: Structure | None = None
    propose: Callable[[], tuple[Proposal, ...]] = tuple

    @cached_property
    def proposals(self) -> tuple[Proposal, ...]:
        """Every simplification that changes it, with its worth."""
        return self.propose()


def design_from(
    tracing: Tracing,
    *,
    name: str = "Traced",
    target_mass_kg: float | None = None,
    refuse: tuple[str, ...] = (),
    rough: bool = False,
    structure: Structure | None = None,
    helpers: Helpers | None = None,
) -> StartingDesign:
    """A valid starting design from a tracing.

    Parameters
    ----------
    tracing : Tracing
        With at least a wing in the top view.
    name : str
        The model's name.
    target_mass_kg : float, optional
        Wanted all-up mass; the review holds the model against it.
    refuse : tuple of str
        Ids of simplifications not to take: see `SIMPLIFICATIONS`.
    rough : bool
        Only to be weighed: equipment in its place, but nothing mended, cured or proposed.
    structure : Structure, optional
        Spars and sheet to make it of, in place of the lightest that serve.
    helpers : Helpers, optional
        Processes that work out meanwhile what its simplifications are worth.

    Raises
    ------
    PictureError
        If no wing was found in the top view, or a simplification is refused that there is not.
    """
    if not tracing.wings:
        raise PictureError(
            "no wing was found in the top view, so there is no design to start from. Draw it by hand."
        )
    unknown = [r for r in refuse if r not in SIMPLIFICATIONS]
    if unknown:
        raise PictureError(
            f"there is no simplification {unknown[0]!r} to refuse; there are {', '.join(SIMPLIFICATIONS)}."
        )
    draft = Draft(
        tracing=tracing, name=name, target_g=None if target_mass_kg is None else 1000.0 * target_mass_kg
    )
    choice = proposed = _chosen(draft, tuple(refuse), structure)
    if "larger-fin" in refuse:
        choice = replace(choice, fin=1.0)
    if "pusher" in refuse:
        choice = replace(choice, pusher=False)
    made_of = Structure(choice.rods, choice.sheet)
    if rough:
        return StartingDesign(toml=draft.layout(choice).written(), structure=made_of)
    layout, says = _finished(draft, choice, proposed, helpers)
    return StartingDesign(
        toml=layout.written(),
        says=says,
        structure=made_of,
        propose=proposing(draft, choice, tuple(refuse), proposed, layout.changes, helpers=helpers),
    )


def _prepared(text: str) -> None:
    """Evaluate a design in a helper, for what the versions of it have in common to be at hand there."""
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate

    with suppress(SheetlarkError):
        evaluate(loads(text))


def _chosen(draft: Draft, refuse: tuple[str, ...], structure: Structure | None) -> Choice:
    """Sheet, drive's place, spar and fin, each the first of a few that serves; fin and drive as if not refused."""
    made_of = structure or Structure(RODS[0], SHEETS[0])
    choice = Choice(
        flat="flat-sides" not in refuse,
        straight="straight-hinge" not in refuse,
        tail="larger-tail" not in refuse,
        wide="wide-controls" not in refuse,
        filled="filled-cut-out" not in refuse,
        rods=made_of.rods,
        sheet=made_of.sheet,
        size=size_for(draft.target_g or LOADING_G_DM2 * draft.wing_area_mm2 / 1e4),
    )
    if structure is None and draft.too_small(choice):
        choice = replace(choice, sheet=SHEETS[1])
    choice = _driven(draft, _sized(draft, choice))
    if structure is None:
        choice = _with_board(draft, _with_spars(draft, choice))
    now = draft.look(choice)
    return choice if now is None else _with_fin(draft, choice, now)


def _with_spars(draft: Draft, choice: Choice) -> Choice:
    """Spars with which every wing bears its load and keeps its shape: as they are, or the lightest stock rod for it."""
    for rods in RODS:
        choice = replace(choice, rods=rods)
        for _ in draft.wings:
            now = draft.look(choice)
            if now is None or now.strong:
                return choice
            serving = now.evaluation.serving_spars(now.weakest)
            if not serving:
                break
            choice = replace(choice, rods=(serving[0].rod.key, *rods[1:]))
    return choice


def _with_board(draft: Draft, choice: Choice) -> Choice:
    """Heavier board where a wing is soft in twist and that cures it; it can be thrown as before."""
    now, heavier = draft.look(choice), replace(choice, sheet=SHEETS[1])
    if now is None or not now.twists or heavier == choice:
        return choice
    other = draft.look(heavier)
    return heavier if other is not None and not other.twists and other.throwable else choice


def _sized(draft: Draft, choice: Choice) -> Choice:
    """Equipment for what the model weighs with it, or shall weigh; where two sizes ask for each other, the larger."""
    if draft.target_g is not None:
        return choice
    mass = draft.mass_g(choice)
    sizes = [choice.size if mass is None else size_for(mass)]
    while True:
        choice = replace(choice, size=sizes[-1])
        now = draft.look(choice)
        wanted = choice.size if now is None else size_for(now.mass_g)
        if wanted in sizes:
            return replace(choice, size=max(wanted, choice.size))
        sizes.append(wanted)


def _driven(draft: Draft, choice: Choice) -> Choice:
    """The motor in the nose, or at the tail of a tailless model that balances only so."""
    if not draft.tailless:
        return choice
    now = draft.look(choice)
    if now is not None and now.off_balance_mm <= 1.0:
        return choice
    # a battery moved for balance moves the balance: what either comes to shows after a few rounds
    pushed = replace(choice, pusher=True)
    other = draft.look(pushed, SETTLED)
    if other is None:
        return choice
    if now is not None and now.off_balance_mm < other.off_balance_mm + FAR_MM:
        now = draft.look(choice, SETTLED)
    if now is not None and now.off_balance_mm <= max(other.off_balance_mm, 1.0):
        return choice
    # a wing that reaches behind the body lies in the disc
    return pushed if turns_free(draft.layout(pushed, SETTLED)) else choice


def _with_fin(draft: Draft, choice: Choice, now: Look) -> Choice:
    """The fin as drawn where it holds the nose into the wind, else the least taller one that does.

    The yawing moment grows with the height nearly in proportion, so the first guess is by a straight line.
    """
    if now.yaw >= YAW_WANTED:
        return _without_skid(draft, choice, now)
    tallest = draft.look(replace(choice, fin=STRETCHES[-1]))
    if tallest is None or tallest.yaw <= now.yaw:
        return choice
    slope = (tallest.yaw - now.yaw) / (STRETCHES[-1] - 1.0)
    for stretch in STRETCHES[:-1]:
        if now.yaw + slope * (stretch - 1.0) < YAW_WANTED:
            continue
        trial = draft.look(replace(choice, fin=stretch))
        if trial is not None and trial.yaw >= YAW_WANTED:
            return _without_skid(draft, replace(choice, fin=stretch), trial)
    return replace(choice, fin=STRETCHES[-1])


def _without_skid(draft: Draft, choice: Choice, now: Look) -> Choice:
    """A step or two taller where that keeps it from skidding into its turns."""
    if not now.skids:
        return choice
    for stretch in [s for s in STRETCHES if s > choice.fin][:SKID_STEPS]:
        trial = draft.look(replace(choice, fin=stretch))
        if trial is not None and not trial.skids:
            return replace(choice, fin=stretch)
    return choice


def _finished(draft: Draft, choice: Choice, proposed: Choice, helpers: Helpers | None) -> tuple[Layout, str]:
    """Everything in its place, what the proof finds mended, what one step cures cured; else why that cannot be."""
    try:
        layout = draft.layout(choice)
        if helpers is not None:
            helpers.begin(_prepared, layout.written())
        layout = mended(balanced(draft.layout(choice, rounds=2), layout), helpers)
        begun(draft, choice, proposed, layout.changes, helpers)
        return with_rods(remedied_once(layout)), ""
    except SheetlarkError as error:
        return draft.start(choice), str(error)
