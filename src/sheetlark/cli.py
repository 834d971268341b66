"""The command line. Each command opens one room; slow rooms are imported by the command that needs them."""

from __future__ import annotations

import json
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sheetlark.cli_drive import match, measure
from sheetlark.cli_log import handbook, log, pack, unpack
from sheetlark.cli_page import DESIGN, progress, wiped
from sheetlark.errors import SheetlarkError

if TYPE_CHECKING:
    from sheetlark.beside import Helpers
    from sheetlark.sheets import PlanFiles


class _Plain(click.Group):
    """Says what is wrong in words; a traceback is for --debug alone."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except SheetlarkError as error:
            if ctx.params.get("debug"):
                raise
            click.echo(str(error), err=True)
            sys.exit(2)
        except BrokenPipeError:
            sys.exit(1)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except Exception as error:
            if ctx.params.get("debug"):
                raise
            if isinstance(error, OSError | MemoryError | RecursionError):
                click.echo(f"sheetlark had to stop: {error or type(error).__name__}", err=True)
                sys.exit(2)
            click.echo(
                f"sheetlark met something it did not expect ({type(error).__name__}: {error}). Your design file is as it "
                "was. `sheetlark --debug ...` shows where it happened; please report it.",
                err=True,
            )
            sys.exit(70)


def _helping_review() -> AbstractContextManager[Helpers | None]:
    """Helpers that have imported what a review needs."""
    import sheetlark.review  # noqa: F401
    from sheetlark.beside import helpers

    return helpers()


@click.group(cls=_Plain, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="sheetlark", prog_name="sheetlark")
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
def main(debug: bool) -> None:
    """Know what a flat-sheet model will be before the glue sets, and print plans that go together.

    Start with:  sheetlark new mine --like dunnock
    """


@main.command()
@click.argument("name")
@click.option("--like", default="dunnock", show_default=True, help="dunnock, brambling or turnstone.")
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
def new(name: str, like: str, force: bool) -> None:
    """Write NAME.toml, a design to begin from."""
    from sheetlark.design import edited, starter, write_text

    file = Path(name if name.endswith(".toml") else f"{name}.toml")
    text = starter(like)
    title = file.stem.replace("-", " ").replace("_", " ").strip().capitalize()
    text = edited(text, {("model", "name"): title[:60] or like.capitalize()})
    write_text(file, text, new=not force)
    click.echo(f"wrote {file}, like {like}. Edit it in any editor, then: sheetlark review {file}")


@main.command()
@click.argument("design", type=DESIGN)
@click.option("--json", "as_json", is_flag=True, help="Print the stable document instead.")
@click.option("--table", is_flag=True, help="Print the whole weight table too.")
@click.option(
    "--apply",
    "remedy",
    default=None,
    metavar="ID[:N]",
    help="Write the first (or Nth) remedy of a finding into DESIGN, comments kept: --apply margin:2",
)
def review(design: Path, as_json: bool, table: bool, remedy: str | None) -> None:
    """Every figure and finding of DESIGN, before anything is cut."""
    from sheetlark.design import load, write_text
    from sheetlark.evaluation import evaluate
    from sheetlark.review import chosen_remedy, document, line_changes, printed, with_remedy

    of = load(design)
    with _helping_review() as helping:
        evaluation = evaluate(of)
        if remedy is not None:
            chosen = chosen_remedy(evaluation, remedy)
            text = with_remedy(evaluation, chosen)
            said = [
                f"{chosen.says} {chosen.moves}".strip(),
                *line_changes(evaluation.design.source.text, text),
            ]
            write_text(design, text)
            click.echo("\n".join(said), err=as_json)
            evaluation = evaluate(load(design), evaluation.stock)
        if as_json:
            found = document(evaluation, progress=progress, helpers=helping)
            click.echo(wiped(json.dumps(found, indent=1, ensure_ascii=False)))
        else:
            click.echo(wiped(printed(evaluation, table=table, progress=progress, helpers=helping)))


@main.command()
@click.argument("design", type=DESIGN)
@click.option("-o", "--out", type=click.Path(path_type=Path), required=True, help="Folder for the plans.")
@click.option(
    "--paper",
    "papers",
    multiple=True,
    default=("a4", "letter"),
    show_default=True,
    help="Paper to tile for; may be given more than once.",
)
@click.option(
    "--measured-bar",
    default=None,
    metavar="98.6mm",
    help="What the 100 mm check bar measures on your print; or across and up: '98.6mm x 99.1mm'.",
)
@click.option("--kerf", default="0", help="Width a cutting machine takes away, for DXF and SVG.")
@click.option("--seed", default=0, show_default=True, help="Another seed lays the parts out differently.")
def plans(
    design: Path, out: Path, papers: tuple[str, ...], measured_bar: str | None, kerf: str, seed: int
) -> None:
    """Prove the parts, then write full-size sheets (tiled and whole PDF, DXF, SVG), an assembly drawing, a parts list."""
    from sheetlark.design import load
    from sheetlark.evaluation import evaluate
    from sheetlark.handbook import write_assembly
    from sheetlark.review import proof_lines, proved
    from sheetlark.sheets import read_measured_bar, write_plans
    from sheetlark.units import LENGTH

    evaluation = evaluate(load(design))
    files = write_plans(
        evaluation.plan_kit,
        evaluation.stock,
        out,
        papers=papers,
        seed=seed,
        kerf_mm=1e3 * LENGTH.read(kerf),
        scale=None if measured_bar is None else read_measured_bar(measured_bar),
        progress=progress,
    )
    _said(files, write_assembly(evaluation, out))
    for line in proof_lines(proved(evaluation), evaluation.design.model.imperial):
        click.echo(line)


def _said(files: PlanFiles, assembly: tuple[Path, ...]) -> None:
    sheets = "1 sheet" if files.sheets_used == 1 else f"{files.sheets_used} sheets"
    click.echo(f"Plans for {sheets} in {files.folder}/")
    for file, pages in zip(files.tiled, files.pages, strict=True):
        click.echo(f"  {file.name}: {pages} pages. Print at 100 %, then measure the check bar.")
    click.echo(f"  {', '.join(f.name for f in assembly)}: three views, and every part by its number")
    click.echo(f"  {', '.join(f.name for f in files.patterns)}: each part once, with its dimensions")
    others = ", ".join(f.name for f in (*files.whole, *files.dxf, *files.svg, *files.lists))
    click.echo(f"  {others}")
    for sheet in files.nesting.sheets:
        click.echo(f"  {sheet.name}: {100 * sheet.utilisation:.0f} % used")


@main.command()
@click.argument("design", type=DESIGN)
@click.option("--seed", default=0, show_default=True, help="Of the gusts: the same seed is the same flight.")
@click.option(
    "--wind", default=None, metavar="SPEED", help='Wind, such as "3 m/s"; left out: what DESIGN states.'
)
@click.option(
    "--throw",
    "thrown",
    default=None,
    metavar="SPEED",
    help='Throw it by hand at this speed, such as "6 m/s", though it may have wheels.',
)
@click.option(
    "-o", "--out", type=DESIGN, default=None, help="Write the story with its plots as an HTML page."
)
@click.option("--json", "as_json", is_flag=True, help="Print the story as plain values instead.")
def maiden(
    design: Path, seed: int, wind: str | None, thrown: str | None, out: Path | None, as_json: bool
) -> None:
    """The first flight of DESIGN, simulated: from the hand or its wheels, in a light gusty wind."""
    from sheetlark.design import load, write_text
    from sheetlark.evaluation import evaluate
    from sheetlark.evaluation import maiden as first_flight
    from sheetlark.review import story_document, story_page, told
    from sheetlark.units import SPEED

    evaluation = evaluate(load(design))
    story = first_flight(
        evaluation,
        seed=seed,
        wind_ms=None if wind is None else SPEED.read(wind),
        throw_ms=None if thrown is None else SPEED.read(thrown),
        progress=progress,
    )
    if out is not None:
        write_text(out, story_page(evaluation, story))
    if as_json:
        click.echo(json.dumps(story_document(evaluation, story), indent=1, ensure_ascii=False))
        return
    click.echo(told(evaluation, story))
    if out is not None:
        click.echo(f"\nThe story with its plots: {out}")


@main.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default="demo-output")
def demo(folder: Path) -> None:
    """Review the worked example, a biplane, and write its plans into FOLDER."""
    from sheetlark.design import load, starter, write_text
    from sheetlark.evaluation import evaluate
    from sheetlark.handbook import write_assembly
    from sheetlark.review import printed
    from sheetlark.sheets import write_plans

    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "brambling.toml"
    if not file.exists():
        write_text(file, starter("brambling"))
    evaluation = evaluate(load(file))
    click.echo(printed(evaluation))
    click.echo("")
    files = write_plans(evaluation.plan_kit, evaluation.stock, folder / "plans", progress=progress)
    _said(files, write_assembly(evaluation, folder / "plans"))
    click.echo(f"\nThe design is {file}: change it and run  sheetlark review {file}")


@main.command()
@click.argument("picture", type=DESIGN)
@click.option("--span", default=None, help='Span of the model, tip to tip: "760 mm" or "30 in".')
@click.option("--length", default=None, help="A second known dimension, nose to tail, to check the scale.")
@click.option("--json", "as_json", is_flag=True, help="Print views and outlines as a stable document.")
@click.option("-o", "--out", type=DESIGN, default=None, help="Write a starting design.")
@click.option("--review", "reviewed", is_flag=True, help="Review the starting design at once.")
@click.option(
    "--mass",
    default=None,
    help='Wanted all-up mass, ready to fly: "300 g" or "11 oz"; without --span the model is sized to weigh that.',
)
@click.option(
    "--refuse",
    "--without",
    "without",
    multiple=True,
    metavar="ID",
    help="A simplification not to take, such as straight-hinge; may be given more than once.",
)
@click.option("--page", default=1, show_default=True, help="Page of a PDF.")
@click.option(
    "--turned",
    "turned_deg",
    type=float,
    default=None,
    metavar="DEGREES",
    help="Turn the sheet by this much anticlockwise to set it upright, 180 for one upside down; without it, it is found.",
)
@click.option("--force", is_flag=True, help="Write over a file that is there already.")
def trace(
    picture: Path,
    span: str | None,
    length: str | None,
    as_json: bool,
    out: Path | None,
    reviewed: bool,
    mass: str | None,
    without: tuple[str, ...],
    page: int,
    turned_deg: float | None,
    force: bool,
) -> None:
    """Read the outlines of a three-view PICTURE, and make a starting design of them."""
    from sheetlark.beside import helpers
    from sheetlark.trace.report import run

    if reviewed and out is None:
        raise click.UsageError("--review is of a starting design: give -o FILE, for it to be written to")
    if reviewed and as_json:
        raise click.UsageError(
            "--json prints one document: leave --review out, and then: sheetlark review FILE --json"
        )
    with helpers() if reviewed else nullcontext() as helping:

        def review_of(design: Path) -> str:
            from sheetlark.design import load
            from sheetlark.evaluation import evaluate
            from sheetlark.review import printed

            return wiped(printed(evaluate(load(design)), progress=progress, helpers=helping))

        for line in run(
            picture,
            span=span,
            length=length,
            as_json=as_json,
            out=out,
            mass=mass,
            without=without,
            page=page,
            turned_deg=turned_deg,
            force=force,
            helpers=helping,
            review=review_of if reviewed else None,
        ):
            click.echo(line)
        if out is not None and not as_json and not reviewed:
            click.echo(f"Next: sheetlark review {out}")


@main.command()
def schema() -> None:
    """Print the JSON schema of the design file, for editors that complete and check."""
    from sheetlark.design import schema as design_schema

    click.echo(json.dumps(design_schema(), indent=1, ensure_ascii=False))


@main.command()
@click.argument("design", type=DESIGN, required=False)
@click.option("--port", default=0, help="Port on the loopback address; 0 takes a free one.")
@click.option("--no-browser", is_flag=True, help="Print the address only; open no browser window.")
def bench(design: Path | None, port: int, no_browser: bool) -> None:
    """The web workspace: see, change and judge DESIGN in a browser, on this computer only."""
    from sheetlark import bench as room

    room.run(design, port=port, show=not no_browser)


for command in (match, measure, handbook, pack, unpack, log):
    main.add_command(command)
