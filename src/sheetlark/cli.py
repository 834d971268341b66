"""The command line."""

from __future__ import annotations

import click


@click.group()
def main() -> None:
    """Know what a flat-sheet model will be before the glue sets, and print plans that go together."""
