"""For each finding, the smallest changes that clear it: the levers worth pulling, and their search in turn or shared out."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from sheetlark.beside import Helpers
from sheetlark.design import Where, edited, loads
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.review import building_levers, levers, stock_options
from sheetlark.review.check import Check
from sheetlark.review.checks import CHECKS
from sheetlark.review.finding import Finding, Remedy
from sheetlark.review.levers import Lever, Option
from sheetlark.review.searching import Search, Versions
from sheetlark.review.stretching import TAIL_ARM

MOST_REMEDIES = 3

# What is worth pulling for each finding, the cheapest for a builder first.
PULLS: dict[str, tuple[Lever | Option, ...]] = {
    "margin": (levers.BATTERY, levers.WINGS_ALONG, levers.TAIL_SPAN, levers.NOSE_LEAD),
    "nose-heavy": (levers.BATTERY, levers.ELEVATOR_THROW, levers.WINGS_ALONG, levers.TAIL_LEAD),
    "mass": (stock_options.PAPER,),
    "climb": (stock_options.LARGER_PROPELLER, stock_options.MOTOR, stock_options.PAPER, levers.WING_SPAN),
    "power": (stock_options.LARGER_PROPELLER, stock_options.MOTOR, stock_options.PAPER),
    "current-motor": (stock_options.SMALLER_PROPELLER, stock_options.MOTOR),
    "current-speed-controller": (stock_options.CONTROLLER, stock_options.SMALLER_PROPELLER),
    "current-battery": (stock_options.PACK, stock_options.SMALLER_PROPELLER),
    "winding-heat": (stock_options.SMALLER_PROPELLER, stock_options.MOTOR),
    "cell-cut-off": (stock_options.PACK, stock_options.SMALLER_PROPELLER),
    "pitch-speed": (stock_options.PITCHIER_PROPELLER, stock_options.MOTOR),
    "nose-blockage": (stock_options.LARGER_PROPELLER,),
    "propeller-clearance": (levers.GEAR_LENGTH, stock_options.SMALLER_PROPELLER),
    "no-turn": (levers.ADD_RUDDER,),
    "yaw-stability": (levers.FIN_HEIGHT, levers.BATTERY, TAIL_ARM),
    "adverse-yaw": (
        levers.ADD_RUDDER,
        levers.DIFFERENTIAL,
        levers.FIN_HEIGHT,
        TAIL_ARM,
        levers.DIHEDRAL,
    ),
    "dutch-roll": (levers.FIN_HEIGHT, levers.LESS_DIHEDRAL),
    "spiral": (levers.DIHEDRAL,),
    "roll-rate": (levers.AILERON_THROW,),
    "tip-stall": (levers.TIP_CHORD,),
    "stall-speed": (stock_options.PAPER, levers.WING_SPAN),
    "minutes": (stock_options.PACK, stock_options.LARGER_PROPELLER),
    "tail-volume": (levers.TAIL_SPAN, TAIL_ARM),
    "sheet-count": (levers.LESS_SPAN,),
    "spar": (building_levers.STRONGER_SPAR, building_levers.PAPER_ON),
    "soft-wing": (building_levers.STIFFER_SPAR, building_levers.PAPER_ON, building_levers.COVER_WINGS),
    "strut": (building_levers.DEEPER_STRUT,),
    "bands": (building_levers.HELD,),
    "twist": (building_levers.PAPER_ON, building_levers.COVER_WINGS),
    "servo-torque": (building_levers.HOLES_FOR_TORQUE, building_levers.STRONGER_SERVO),
    "linkage": (building_levers.HOLES_FOR_TRAVEL, building_levers.LESS_THROW),
    "thrust-line": (building_levers.SHAFT,),
    "planks": (building_levers.PLANKED,),
}

Progress = Callable[[float, str], None]

Sought = tuple[str, int]  # a finding's id, and which of its pulls


def remedied(
    evaluation: Evaluation,
    found: Sequence[Finding],
    *,
    progress: Progress | None = None,
    helpers: Helpers | None = None,
) -> tuple[Finding, ...]:
    """The same findings, each with one to three remedies where any lever clears it.

    Parameters
    ----------
    found : sequence of Finding
        From :func:`sheetlark.review.finding` on the same evaluation.
    progress : callable, optional
        Called with a fraction and a few words; it may raise to stop.
    helpers : Helpers, optional
        Processes to share the search with; what comes of it is the same.
    """
    versions = Versions(evaluation)
    known = {} if helpers is None else _shared(versions, found, helpers, progress)
    done = []
    for i, finding in enumerate(found):
        if progress is not None and not known:
            progress(i / len(found), f"looking for the smallest change: {finding.id}")
        done.append(replace(finding, remedies=_three_of(_searched(versions, finding, None, known))))
    return tuple(done)


def begun(evaluation: Evaluation, found: Sequence[Finding], helpers: Helpers | None) -> None:
    """Let helpers make ready for :func:`remedied`, where it will have enough to share."""
    if helpers is not None and len(_by_lever(found)) > 1:
        helpers.begin(_versions_of, *_sent(evaluation))


def _by_lever(found: Sequence[Finding]) -> tuple[tuple[Sought, ...], ...]:
    """What is sought, in pieces that ask for no version of each other's: a lever with all the findings that pull it."""
    pieces: dict[int, list[Sought]] = {}
    for finding in found:
        for k, pull in enumerate(PULLS.get(finding.id, ())):
            pieces.setdefault(id(pull), []).append((finding.id, k))
    return tuple(map(tuple, pieces.values()))


def _shared(
    versions: Versions, found: Sequence[Finding], helpers: Helpers, progress: Progress | None
) -> dict[Sought, Remedy | None]:
    """What comes of every pull of every finding."""
    pieces = _by_lever(found) if versions.of.design.source.text else ()
    if len(pieces) < 2:
        return {}

    def here(piece: tuple[Sought, ...]) -> tuple[Remedy | None, ...]:
        if progress is not None:
            progress(pieces.index(piece) / len(pieces), f"looking for the smallest change: {piece[0][0]}")
        return _pulled(versions, piece)

    made = helpers.share(pieces, here, _pulled_there, *_sent(versions.of))
    return {
        sought: remedy
        for piece, remedies in zip(pieces, made, strict=True)
        for sought, remedy in zip(piece, remedies, strict=True)
    }


def _sent(evaluation: Evaluation) -> tuple[str, str, bytes]:
    """What makes the same evaluation in another process."""
    source = evaluation.design.source
    return source.text, source.name, pickle.dumps(evaluation.stock)


@lru_cache(maxsize=1)
def _versions_of(text: str, name: str, stock: bytes) -> Versions:
    return Versions(evaluate(loads(text, name), pickle.loads(stock)))  # noqa: S301 - of our own parent process


def _pulled_there(text: str, name: str, stock: bytes, piece: tuple[Sought, ...]) -> tuple[Remedy | None, ...]:
    return _pulled(_versions_of(text, name, stock), piece)


def _pulled(versions: Versions, piece: tuple[Sought, ...]) -> tuple[Remedy | None, ...]:
    return tuple(Search(versions, _check(id_)).pulled(PULLS[id_][k]) for id_, k in piece)


def _check(id_: str) -> Check:
    return next(c for c in CHECKS if c.id == id_)


def remedies_for(
    evaluation: Evaluation, finding: Finding, *, within: Callable[[Where], bool] | None = None
) -> tuple[Remedy, ...]:
    """Up to three remedies of one finding; none where the design was not read from text.

    Those that raise no new caution come first, then the cheapest lever.

    Parameters
    ----------
    within : callable, optional
        Whether a place of the design may be changed; without it any may. What may not is not tried.
    """
    return _three_of(each_remedy(Versions(evaluation), finding, within=within))


def _three_of(remedies: Iterator[Remedy]) -> tuple[Remedy, ...]:
    found: list[Remedy] = []
    for remedy in remedies:
        found.append(remedy)
        if sum(not r.brings for r in found) == MOST_REMEDIES:
            break
    return tuple(sorted(found, key=lambda r: len(r.brings))[:MOST_REMEDIES])


def each_remedy(
    versions: Versions, finding: Finding, *, within: Callable[[Where], bool] | None = None
) -> Iterator[Remedy]:
    """Remedies of one finding as they are found, the cheapest lever first; see `remedies_for`.

    Each is a search, so who needs one alone should not ask for the next.

    versions : of the design with the finding; what is evaluated for it is there for the next finding too
    """
    return _searched(versions, finding, within, {})


def _searched(
    versions: Versions,
    finding: Finding,
    within: Callable[[Where], bool] | None,
    known: Mapping[Sought, Remedy | None],
) -> Iterator[Remedy]:
    """Remedies in the order of their levers; `known` is what has been searched for already."""
    if not versions.of.design.source.text:
        return
    search = Search(versions, _check(finding.id), within)
    for k, pull in enumerate(PULLS.get(finding.id, ())):
        sought = finding.id, k
        remedy = known[sought] if sought in known else search.pulled(pull)
        if remedy is not None:
            yield remedy


def applied(evaluation: Evaluation, remedy: Remedy) -> str:
    """The design file's text with a remedy written into it; comments stay."""
    return edited(evaluation.design.source.text, {c.where: c.value for c in remedy.changes})
