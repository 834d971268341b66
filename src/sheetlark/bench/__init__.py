"""The bench: a live workspace in the browser, on this machine only.

Nothing here is imported until the workspace is opened; the web server is slow to import.
"""

from __future__ import annotations

from pathlib import Path


def run(design: Path | None = None, *, port: int = 0, folder: Path | None = None, show: bool = True) -> None:
    """Open the bench and serve it until interrupted.

    Parameters
    ----------
    design : Path, optional
        Design file to open; its folder becomes the project folder.
    port : int
        Port on the loopback address; 0 takes a free one.
    folder : Path, optional
        Project folder whose designs are offered; the current folder by default.
    show : bool
        Whether to open a browser window. The address is printed either way.

    Raises
    ------
    DesignError
        If the design or the folder does not exist.
    """
    from sheetlark.bench.server import serve

    serve(design, port=port, folder=folder, show=show)


__all__ = ["run"]
