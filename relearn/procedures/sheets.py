"""Vehicle sheets: the generic limits, a vehicle's own numbers over them, and where each comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

from relearn.errors import ChoiceError, ProcedureError, SheetError
from relearn.procedures import sheet_file
from relearn.procedures.facts import PATH, Kind, fact_rows, step_number_rows
from relearn.procedures.packaged import DATA
from relearn.procedures.sheet_file import Document, Value
from relearn.procedures.sheet_mistakes import meaning, mistakes, problem
from relearn.procedures.standing import joined, standing_text
from relearn.verdict import Limits

SHEETS = DATA / "sheets"
GENERIC = SHEETS / "generic.toml"


@dataclass(frozen=True)
class Fact:
    """One number (or text) of a sheet. value: (low, high) of a range, None where open. standing: in words."""

    key: str
    value: Value
    unit: str
    kind: Kind
    standing: str

    def limits(self) -> Limits:
        """The window this fact stands for; a 'number' is both its ends. A text is a ProcedureError."""
        low, high = self._ends()
        return Limits(low, high, self.unit, self.standing, low_open=self.kind == "above")

    def _ends(self) -> tuple[float | None, float | None]:
        if isinstance(self.value, tuple):
            return self.value
        if isinstance(self.value, str):
            raise ProcedureError("is a text and no limit", path=PATH, key=self.key, remedy="ask for its text")
        low = None if self.kind == "ceiling" else self.value
        return low, None if self.kind in ("floor", "above") else self.value


@dataclass(frozen=True)
class Sheet:
    """The numbers to judge by.

    facts: by key. steps: numbers of timed steps by 'relearn.step.name', where a sheet sets them.
    own: the keys that are the vehicle's own (its sheet's, or an option's), not generic.
    Asking for a key that nobody knows is a ProcedureError; the answer is None where the sheet has no number.
    """

    title: str
    source: str
    facts: Mapping[str, Fact]
    steps: Mapping[str, Fact] = field(default_factory=lambda: MappingProxyType({}))
    own: frozenset[str] = frozenset()

    def __reduce__(self) -> tuple[type[Sheet], tuple[object, ...]]:
        """To go to another process: a read-only view cannot, what it shows can."""
        return Sheet, (self.title, self.source, dict(self.facts), dict(self.steps), self.own)

    def fact(self, key: str) -> Fact | None:
        """The fact with its standing."""
        if key not in fact_rows():
            raise ProcedureError("nobody knows this fact", path=PATH, key=key, remedy="add a row for it")
        return self.facts.get(key)

    def number(self, key: str) -> float | None:
        """The one number of a fact; asking a range or a text for it is a ProcedureError."""
        fact = self.fact(key)
        if fact is None:
            return None
        if isinstance(fact.value, tuple | str):
            raise ProcedureError("is no single number", path=PATH, key=key, remedy="ask for its limits or text")
        return float(fact.value)

    def text(self, key: str) -> str | None:
        """The words of a fact; asking a number for them is a ProcedureError."""
        fact = self.fact(key)
        if fact is not None and not isinstance(fact.value, str):
            raise ProcedureError("is a number and no text", path=PATH, key=key, remedy="ask for its limits")
        return None if fact is None else str(fact.value)

    def limits(self, key: str) -> Limits | None:
        """The window of a fact, with its standing."""
        fact = self.fact(key)
        return None if fact is None else fact.limits()

    def need(self, key: str) -> Limits:
        """The window of a fact that every sheet has from the generic one; without it a ProcedureError."""
        limits = self.limits(key)
        if limits is None:
            raise ProcedureError("has no generic value", path=GENERIC, key=key, remedy="set it there")
        return limits

    def sets(self, key: str) -> bool:
        """True if the number is the vehicle's own, False if it is generic or missing."""
        return self.fact(key) is not None and key in self.own

    def around(self, centre: str, tolerance: str) -> Limits | None:
        """Centre ± tolerance, ends included, with the standing of both; None unless the sheet has both."""
        middle, either_way = self.fact(centre), self.fact(tolerance)
        value, spread = self.number(centre), self.number(tolerance)
        if middle is None or either_way is None or value is None or spread is None:
            return None
        standing = joined([middle.standing, either_way.standing])
        return Limits(value - spread, value + spread, middle.unit, standing)


@cache
def generic() -> Sheet:
    """The generic limits: no idle target, no displacement, no released pedal value."""
    return replace(_laid_over(_without_mistakes(GENERIC), Sheet("", "", {})), own=frozenset())


def load_sheet(path: Path | str) -> Sheet:
    """The generic sheet with a vehicle's own numbers over it. The first mistake in the file is a SheetError.

    A fact that the file sets has the standing "vehicle sheet 'TITLE': SOURCE", or what its [standing] says.
    """
    return generic() if Path(path) == GENERIC else _laid_over(_without_mistakes(Path(path)), generic())


def check_sheet(path: Path | str) -> tuple[str, ...]:
    """Every mistake in a sheet as one sentence with its key; none at all for a good one. Never raises."""
    try:
        document = sheet_file.read_document(Path(path))
    except SheetError as unreadable:
        return (str(unreadable),)
    return tuple(str(mistake) for mistake in mistakes(document, Path(path)))


def sheet_path(name: str) -> Path:
    """A packaged sheet by its name ('demo-car'), anything else as a path."""
    packaged = {path.stem: path for path in SHEETS.glob("*.toml")}
    return packaged.get(name, Path(name))


def given_instead(sheet: Sheet, key: str, value: Value, standing: str) -> Sheet:
    """The sheet with one fact set by other means, e.g. an option. A value out of its window: ChoiceError."""
    row = fact_rows()[key]
    if wrong := problem(row, list(value) if isinstance(value, tuple) else value):
        raise ChoiceError(wrong, key=key, remedy=f"it means: {meaning(row)}")
    fact = Fact(key, value, row.unit, row.kind, standing)
    return replace(sheet, facts=MappingProxyType({**sheet.facts, key: fact}), own=sheet.own | {key})


def with_target(sheet: Sheet, target_rpm: float | None, tolerance_rpm: float | None, standing: str) -> Sheet:
    """The sheet with a target idle speed and its tolerance given by other means; None leaves what the sheet has."""
    for key, value in (("idle.target_rpm", target_rpm), ("idle.tolerance_rpm", tolerance_rpm)):
        sheet = given_instead(sheet, key, value, standing) if value is not None else sheet
    return sheet


def _without_mistakes(path: Path) -> Document:
    document = sheet_file.read_document(path)
    for mistake in mistakes(document, path):
        raise mistake
    return document


def _laid_over(document: Document, base: Sheet) -> Sheet:
    title, source = str(document["title"]), str(document["source"])
    standing = f"vehicle sheet '{title}': {source}"
    words = sheet_file.standings(document)
    facts = {
        key: _fact(key, value, standing_text(words.get(key, standing)))
        for key, value in sheet_file.fact_values(document).items()
    }
    steps = {key: _step_fact(key, value, standing) for key, value in sheet_file.step_values(document).items()}
    return Sheet(
        title,
        source,
        MappingProxyType({**base.facts, **facts}),
        MappingProxyType({**base.steps, **steps}),
        frozenset(facts),
    )


def _fact(key: str, value: Value, standing: str) -> Fact:
    return Fact(key, value, fact_rows()[key].unit, fact_rows()[key].kind, standing)


def _step_fact(key: str, value: float, standing: str) -> Fact:
    name = key.rsplit(".", 1)[1]
    return Fact(f"steps.{key}", value, step_number_rows()[name].unit, "number", standing)
