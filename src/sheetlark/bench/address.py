"""The address a bench had last on a folder, so that a page left open finds it again when it is started anew.

It lies in the folder the system keeps for a person's running programs (XDG_RUNTIME_DIR of the XDG Base Directory
Specification 0.8), which nobody else can read and which is emptied when that person logs out. Where there is none, nothing
is kept: every bench then has an address of its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Address:
    """Where a bench listens, the secret of its printed address, and that of its cookie."""

    port: int
    key: str
    token: str

    @classmethod
    def fresh(cls, port: int) -> Address:
        """One that nobody knows yet."""
        return cls(port, secrets.token_urlsafe(24), secrets.token_urlsafe(24))


def last_address(folder: Path) -> Address | None:
    """The last address of a bench on this folder; None where none is kept or it cannot be trusted."""
    file = _file(folder)
    if file is None:
        return None
    try:
        stat = file.stat()
        if stat.st_uid != os.getuid() or stat.st_mode & 0o077:
            return None
        kept = json.loads(file.read_text("utf-8"))
        address = Address(int(kept["port"]), str(kept["key"]), str(kept["token"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return address if 0 < address.port < 65536 and min(len(address.key), len(address.token)) >= 32 else None


def keep_address(folder: Path, address: Address) -> None:
    """Keep it for the next bench on this folder, where there is a place for it."""
    file = _file(folder)
    if file is None:
        return
    with contextlib.suppress(OSError):
        file.parent.mkdir(mode=0o700, exist_ok=True)
        file.unlink(missing_ok=True)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            json.dump(asdict(address), out)


def _file(folder: Path) -> Path | None:
    base = os.environ.get("XDG_RUNTIME_DIR", "")
    if not base or not Path(base).is_dir():
        return None
    mark = hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:20]
    return Path(base) / "sheetlark" / f"bench-{mark}.json"
