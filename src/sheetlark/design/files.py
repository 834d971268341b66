"""Design files: read with every fault named, edited without losing a comment, written without risk."""

from __future__ import annotations

import copy
import os
import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from sheetlark.design.models import Design
from sheetlark.design.source import Source, Where, key_lines, say
from sheetlark.errors import DesignError
from sheetlark.writing import there_already, write_whole

LARGEST_FILE_BYTES = 1_000_000
STARTERS = ("dunnock", "brambling", "turnstone")


def load(path: str | os.PathLike[str]) -> Design:
    """Read and check a design file.

    Raises
    ------
    DesignError
        If the file cannot be read or holds anything that is not a design. The message has one line for each
        fault: file, line, what was read, what was expected, and the nearest known name.
    """
    file = Path(path)
    try:
        if file.is_dir():
            raise DesignError(f"{file} is a folder; name a design file such as mine.toml")
        with file.open("rb") as handle:
            raw = handle.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        beside = [p.name for p in file.parent.glob("*.toml")] if file.parent.is_dir() else []
        near = get_close_matches(file.name, beside, n=1, cutoff=0.5)
        hint = f" Did you mean {near[0]}?" if near else " `sheetlark new NAME` makes one."
        raise DesignError(f"there is no file {file}.{hint}") from None
    except OSError as error:
        raise DesignError(f"{file} cannot be read: {error.strerror or error}") from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise DesignError(
            f"{file} is larger than {LARGEST_FILE_BYTES // 1000} kB; a design file is a short text"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DesignError(
            f"{file} is not a UTF-8 text (byte {error.start} cannot be read). Is it really a design file?"
        ) from None
    return loads(text, name=str(file))


def loads(text: str, name: str = "") -> Design:
    """Read and check the text of a design file; errors as for :func:`load`."""
    prefix = f"{name}: " if name else ""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise DesignError(f"{prefix}this is not a TOML text: {error}") from None
    try:
        design = Design.model_validate(data)
    except ValidationError as error:
        raise DesignError("\n".join(_faults(error, text, name))) from None
    except RecursionError:
        raise DesignError(f"{prefix}tables lie too deep inside each other for a design file") from None
    design._source = Source(name, text)  # noqa: SLF001 - the reader is what sets it
    return design


def _faults(error: ValidationError, text: str, name: str) -> list[str]:
    source = Source(name, text)
    lines = []
    found = error.errors()
    # A list whose items were refused counts as empty for pydantic; the items' own faults say it all.
    inner = {tuple(f["loc"])[: len(f["loc"]) - k] for f in found for k in range(1, len(f["loc"]))}
    for fault in found:
        if fault["type"] == "too_short" and tuple(fault["loc"]) in inner:
            continue
        where: Where = tuple(
            p for p in fault["loc"] if not (isinstance(p, str) and p.startswith("function-"))
        )
        lines.append((source.line(where) or 0, source.at(where) + _words(fault, where)))
    return [line for _, line in sorted(lines, key=lambda pair: pair[0])]


def _words(fault: Any, where: Where) -> str:
    kind, read = fault["type"], fault.get("input")
    if kind == "extra_forbidden":
        known = _known_keys(where[:-1])
        near = get_close_matches(str(where[-1]), known, n=1, cutoff=0.4)
        hint = f"; did you mean {near[0]!r}?" if near else f"; known here: {', '.join(known)}"
        return f"{where[-1]!r} is not a known key{hint}"
    if kind == "missing":
        return "is missing and must be given"
    if kind == "literal_error":
        expected = fault["ctx"]["expected"]
        choices = [c.strip().strip("'") for c in expected.replace(" or ", ", ").split(",")]
        near = get_close_matches(str(read), choices, n=1, cutoff=0.4)
        return f"expected {expected}, read {read!r}" + (f"; did you mean {near[0]!r}?" if near else "")
    if kind == "value_error":
        return str(fault["msg"]).removeprefix("Value error, ")
    if kind in {"model_type", "dict_type"}:
        return f"expected a table, read {_shown(read)}"
    if kind in {"tuple_type", "list_type"}:
        return f"expected a list in square brackets, read {_shown(read)}"
    if kind == "too_short" and isinstance(where[-1], str):
        return f"needs at least {fault['ctx']['min_length']} of these"
    if kind == "string_type":
        return f"expected a text in quotes, read {_shown(read)}"
    return f"{str(fault['msg'])[:1].lower()}{str(fault['msg'])[1:]}, read {_shown(read)}"


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _known_keys(where: Where) -> list[str]:
    """Keys that the table at a path may have."""
    model: type[BaseModel] = Design
    for part in where:
        if isinstance(part, int):
            continue
        field = model.model_fields.get(part)
        inner = _model_in(field.annotation) if field else None
        if inner is None:
            return []
        model = inner
    return list(model.model_fields)


def _model_in(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def edited(text: str, changes: Mapping[Where, object]) -> str:
    """The text with some values changed; every comment and every other byte stays.

    Parameters
    ----------
    changes : mapping
        Path of each key, such as ``("wing", 0, "span")``, to its new value; None removes the key. Tables on
        the way that are missing are made.

    Raises
    ------
    DesignError
        If a path leads through something that is not a table.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        for where, value in changes.items():
            _put(document, where, value)
        return tomlkit.dumps(document)
    except TOMLKitError as error:
        raise DesignError(f"the design file cannot be edited: {error}") from None


def _put(document: Any, where: Where, value: object) -> None:
    import tomlkit

    holder = document
    for i, part in enumerate(where[:-1]):
        try:
            holder = holder[part]
        except KeyError:
            if value is None:
                return
            following = where[i + 1]
            holder[part] = tomlkit.aot() if isinstance(following, int) else tomlkit.table()
            holder = holder[part]
        except (IndexError, TypeError):
            if isinstance(part, int) and hasattr(holder, "append") and part == len(holder):
                holder.append(tomlkit.table())
                holder = holder[part]
            else:
                raise DesignError(f"there is no {say(where[: i + 1])} in the design to change") from None
    last = where[-1]
    if value is None:
        if last < len(holder) if isinstance(last, int) else last in holder:
            del holder[last]
        return
    try:
        # Assigning through the old item keeps its comment and its place.
        holder[last] = value
    except (IndexError, TypeError):
        raise DesignError(f"there is no {say(where)} in the design to change") from None


def varied(text: str, changes: Mapping[Where, object], name: str = "") -> Design:
    """The design of a text with some values changed: as reading `edited`, without writing the text anew.

    A hand that drags asks for this many times a second. The design's lines are those of the text as it is.

    Raises
    ------
    DesignError
        As :func:`edited` and :func:`loads`.
    """
    try:
        data = copy.deepcopy(_read_data(text))
        for where, value in changes.items():
            _set(data, where, value)
        design = Design.model_validate(data)
    except (ValueError, TypeError, LookupError, RecursionError, ValidationError):
        return loads(edited(text, changes), name)  # says what is wrong, and on which line
    design._source = Source(name, text)  # noqa: SLF001 - the reader is what sets it
    return design


@lru_cache(maxsize=4)
def _read_data(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def _set(data: Any, where: Where, value: object) -> None:
    """As `_put`, on plain tables and lists."""
    holder = data
    for i, part in enumerate(where[:-1]):
        missing = part not in holder if isinstance(holder, dict) else part == len(holder)
        if missing:
            if value is None:
                return
            fresh: Any = [] if isinstance(where[i + 1], int) and isinstance(holder, dict) else {}
            if isinstance(holder, dict):
                holder[part] = fresh
            else:
                holder.append(fresh)
        holder = holder[part]
    last = where[-1]
    if value is None:
        if last < len(holder) if isinstance(last, int) else last in holder:
            del holder[last]
        return
    holder[last] = value


def write_text(path: str | os.PathLike[str], text: str, *, new: bool = False) -> None:
    """Write a text as UTF-8, whole or not at all; with `new`, only where nothing is yet.

    Raises
    ------
    DesignError
        If something new is there already, perhaps only since a moment ago, or the place cannot be written.
    """
    try:
        write_whole(path, text.encode("utf-8"), new=new)
    except FileExistsError:
        raise DesignError(there_already(path)) from None
    except OSError as error:
        raise DesignError(f"{path} cannot be written: {error.strerror or error}") from None


def starter(name: str) -> str:
    """The text of a starter design.

    Raises
    ------
    DesignError
        If there is no starter of that name.
    """
    if name not in STARTERS:
        near = get_close_matches(name, STARTERS, n=1, cutoff=0.4)
        hint = f" Did you mean {near[0]}?" if near else ""
        raise DesignError(f"there is no starter {name!r}; there are {', '.join(STARTERS)}.{hint}")
    return (resources.files("sheetlark.design") / "starters" / f"{name}.toml").read_text("utf-8")


def schema() -> dict[str, Any]:
    """The JSON schema of the design file, for editors."""
    made = Design.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made, "title": "Sheetlark design"}


__all__ = ["STARTERS", "edited", "key_lines", "load", "loads", "schema", "starter", "write_text"]
