"""A vehicle sheet's file: TOML read as it is, its values taken out once sheet_mistakes finds none."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Container, Iterator, Mapping
from pathlib import Path
from typing import Any

from relearn.errors import SheetError
from relearn.procedures.facts import FactRow, fact_rows

Value = float | str | tuple[float | None, float | None]
Document = Mapping[str, Any]

HEADINGS = ("title", "source")
TABLES = ("standing", "steps")
DEEPEST = 3


def read_document(path: Path) -> Document:
    """The file as plain TOML. Unreadable, not text or not TOML: a SheetError, with the line if known."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as wrong:
        raise SheetError(
            f"cannot be read ({wrong.strerror})",
            path=path,
            remedy="give the path of a vehicle sheet, or the name of a packaged one",
        ) from None
    except (ValueError, RecursionError) as wrong:
        where = re.search(r"at line (\d+)", str(wrong))
        raise SheetError(
            "this is not a TOML file",
            path=path,
            line=int(where[1]) if where else None,
            remedy="write a section in brackets, then lines of key = value",
        ) from None


def fact_values(document: Document) -> Mapping[str, Value]:
    """The values of a document without mistakes, by key; empty sections hold none."""
    return {key: value_of(fact_rows()[key], given) for key, given in facts(document) if key in fact_rows()}


def step_values(document: Document) -> Mapping[str, float]:
    """The step numbers of a document without mistakes, by 'relearn.step.name'."""
    return {key: float(given) for key, given in flat(document.get("steps", {}), known=())}


def standings(document: Document) -> Mapping[str, str]:
    """The standings that a document without mistakes gives key by key."""
    return dict(flat(document.get("standing", {}), known=()))


def facts(document: Document) -> list[tuple[str, Any]]:
    """What a document sets, by dotted key, as it is written, mistakes and all."""
    rest = {name: value for name, value in document.items() if name not in HEADINGS + TABLES}
    return list(flat(rest, known=fact_rows()))


def flat(table: Document, known: Container[str], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Nested tables as dotted keys.

    A table is not opened at a known key, nor when deeper than any key; an empty one stands for itself.
    """
    for name, value in table.items():
        key = prefix + (name if name.isprintable() else ascii(name))
        if isinstance(value, dict) and value and key not in known and key.count(".") < DEEPEST:
            yield from flat(value, known, f"{key}.")
        else:
            yield key, value


def ends_of(given: Any) -> tuple[Any, Any] | None:
    """Both ends of a window as they were written, None for one left open; None if it is no window."""
    if isinstance(given, list) and len(given) == 2:
        return given[0], given[1]
    if isinstance(given, dict) and given and given.keys() <= {"low", "high"}:
        return given.get("low"), given.get("high")
    return None


def value_of(row: FactRow, given: Any) -> Value:
    """A value without mistakes, as the row's kind wants it."""
    if row.kind == "text":
        return str(given)
    if row.kind != "range":
        return float(given)
    low, high = ends_of(given) or (None, None)
    return None if low is None else float(low), None if high is None else float(high)
