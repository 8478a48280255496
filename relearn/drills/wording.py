"""The words of the questions and of what is offered as an answer: `data/wording.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

from relearn.procedures.packaged import Identifier, Row, Text, read

PATH = Path(__file__).with_name("data") / "wording.toml"


class KindRow(Row):
    """One kind of question: its name beside points, and what it asks. nothing: offered for when no choice is right."""

    id: Identifier
    title: Text
    asks: Text
    nothing: str = ""


class HappeningRow(Row):
    """One thing that can happen in a recording."""

    id: Identifier
    title: Text


class Wording(Row):
    """The whole file."""

    kind: tuple[KindRow, ...]
    happening: tuple[HappeningRow, ...]


@cache
def kinds() -> Mapping[str, KindRow]:
    """The kinds of question by id, in the order in which they are asked at one stop."""
    return {row.id: row for row in read(Wording, PATH).kind}


@cache
def titles() -> Mapping[str, str]:
    """What can happen, by id, in the order shown."""
    return {row.id: row.title for row in read(Wording, PATH).happening}
