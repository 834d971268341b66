"""What every page of the command line has: the file it is given, and a line that says how far it is."""

from __future__ import annotations

import sys
from pathlib import Path

import click

DESIGN = click.Path(dir_okay=False, path_type=Path)


def progress(share: float, words: str) -> None:
    """One line that is written over, on a terminal only."""
    if sys.stderr.isatty():
        click.echo(f"\r{round(100 * share):3d} %  {words:<60}", err=True, nl=share >= 1.0)


def wiped(words: str) -> str:
    """Words to print where a line of progress stands on a terminal, which is taken away first."""
    if sys.stderr.isatty():
        click.echo(f"\r{'':<70}\r", err=True, nl=False)
    return words
