"""Files written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def there_already(file: str | os.PathLike[str], *, force: bool = True) -> str:
    """The refusal to write over a file. force: whether the asker can say --force."""
    way_out = ", or add --force to write over it" if force else ""
    return f"{file} is there already; choose another name{way_out}"


def write_whole(path: str | os.PathLike[str], content: bytes, *, new: bool = False) -> None:
    """Write a file so that a reader, or a machine that stops half-way, never meets half of it.

    A temporary file beside it is flushed to disk, then renamed over it. A link is followed, and a file that is there
    keeps its permissions. With `new` nothing may be there yet, also where two processes write at the same time.

    Raises
    ------
    FileExistsError
        If something new is there already.
    OSError
        If the place cannot be written; what was there before is untouched.
    """
    file = Path(path)
    if new:
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))  # the place is taken at once
        try:
            write_whole(file, content)
        except BaseException:
            file.unlink(missing_ok=True)
            raise
        return
    target = file.resolve() if file.is_symlink() else file
    handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o644
        os.chmod(temporary, mode)  # noqa: PTH101 - mkstemp gives a name, not a Path
        os.replace(temporary, target)  # noqa: PTH105
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
