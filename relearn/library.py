"""relearn in a program or a notebook: every question as one function. `import relearn` offers these names.

    relearn.settle("captures/demo-after.log", sheet="demo-car").verdict        # "yes", "no" or "cannot tell"

A capture is given by its path, or as what `load` made of it, so that a file asked several questions is read once. A
sheet is given by a packaged one's name ("demo-car"), by its path, or as a Sheet; without one the generic limits hold.
Answers are the frozen documents of `findings`, those that `--json` prints. What cannot be used is a RelearnError, also
where it is of a kind that no question takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from relearn.analysis import air as _air
from relearn.analysis import compare as _compare
from relearn.analysis import identity as _identity
from relearn.analysis import plan as _plan
from relearn.analysis import ready as _ready
from relearn.analysis import settle as _settle
from relearn.analysis import show as _show
from relearn.analysis import steps as _steps
from relearn.analysis import supply as _supply
from relearn.analysis.common import engine_module
from relearn.errors import ChoiceError, RelearnError
from relearn.export import write as _write
from relearn.findings.answers import AirFindings, IdentityFindings, ReadyFindings, SettleFindings, SupplyFindings
from relearn.findings.compare import CompareFindings
from relearn.findings.plan import PlanFindings
from relearn.findings.show import ShowFindings
from relearn.findings.steps import StepsFindings
from relearn.procedures import sheets
from relearn.procedures.sheets import Sheet
from relearn.recording import Recording, read

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "Recording",
    "RelearnError",
    "Sheet",
    "air",
    "compare",
    "identity",
    "load",
    "load_sheet",
    "plan",
    "ready",
    "series",
    "settle",
    "show",
    "steps",
    "supply",
    "write_samples",
]

GivenCapture = Recording | Path | str
GivenSheet = Sheet | Path | str | None


def load(path: Path | str, *, database: Path | str | None = None, mapping: Path | str | None = None) -> Recording:
    """A capture or a table of values, read once; `samples` is its tidy table (time_s, module, channel, value, unit,
    frame), a copy each time. `database` (DBC) makes broadcast signals channels and is passed over for a table of
    values; `mapping` (TOML) names signals or columns."""
    return read(
        _path(path, "a capture"),
        _path(database, "a database") if database is not None else None,
        _path(mapping, "a map") if mapping is not None else None,
    )


def load_sheet(given: GivenSheet = None) -> Sheet:
    """A vehicle sheet over the generic limits; without one the generic limits alone. A Sheet stays as it is."""
    if given is None or isinstance(given, Sheet):
        return given or sheets.generic()
    path = _path(given, "a sheet")
    return sheets.load_sheet(sheets.sheet_path(given) if isinstance(given, str) else path)


def series(capture: GivenCapture, *, module: str | None = None) -> dict[str, pd.Series[float]]:
    """Every channel of one module by its name: values over the index time_s (seconds from the capture's start), with
    `unit` and `module` in `attrs`. Without `module`, the engine's. An unknown module is a ChoiceError."""
    recording = _recording(capture)
    name = engine_module(recording, _name(module))
    mine = recording.table[recording.table["module"] == name]
    return {str(channel): _series(rows, str(channel)) for channel, rows in mine.groupby("channel", observed=True)}


def _series(rows: pd.DataFrame, channel: str) -> pd.Series[float]:
    values: pd.Series[float] = rows.set_index("time_s")["value"].rename(channel)
    values.attrs = {"unit": str(rows["unit"].iloc[0]), "module": str(rows["module"].iloc[0])}
    return values


def write_samples(capture: GivenCapture, path: Path | str) -> None:
    """Every sample as a new CSV, Parquet or MF4 file, by the suffix of `path`; nothing is written over."""
    _write(_recording(capture), _path(path, "the new file"))


def plan(events: Sequence[str], sheet: GivenSheet = None) -> PlanFindings:
    """Which relearns a job needs after these events, in order."""
    return _plan.plan(_events(events), load_sheet(sheet))


def show(capture: GivenCapture, *, module: str | None = None) -> ShowFindings:
    """What a capture holds. Judges nothing."""
    return _show.show(_recording(capture), _name(module))


def ready(capture: GivenCapture, relearn: str, sheet: GivenSheet = None, *, module: str | None = None) -> ReadyFindings:
    """Is the car ready for this relearn at the end of the capture?"""
    return _ready.ready(_recording(capture), _text(relearn, "a relearn"), load_sheet(sheet), _name(module))


def steps(capture: GivenCapture, relearn: str, sheet: GivenSheet = None, *, module: str | None = None) -> StepsFindings:
    """Were the steps of this relearn done, in order and in time?"""
    return _steps.steps(_recording(capture), _text(relearn, "a relearn"), load_sheet(sheet), _name(module))


def settle(
    capture: GivenCapture,
    sheet: GivenSheet = None,
    *,
    target_rpm: float | None = None,
    tolerance_rpm: float | None = None,
    module: str | None = None,
) -> SettleFindings:
    """Did the idle settle? A target or tolerance given here comes before the sheet's, and its standing says so."""
    chosen = sheets.with_target(load_sheet(sheet), target_rpm, tolerance_rpm, "given by the caller")
    return _settle.settle(_recording(capture), chosen, _name(module))


def supply(
    capture: GivenCapture,
    sheet: GivenSheet = None,
    *,
    low_v: float | None = None,
    high_v: float | None = None,
    module: str | None = None,
) -> SupplyFindings:
    """Was the supply held over the whole capture? An end given here comes before the sheet's, and its standing says
    so."""
    chosen = _with_window(load_sheet(sheet), low_v, high_v)
    return _supply.supply(_recording(capture), chosen, module=_name(module))


def _with_window(sheet: Sheet, low_v: float | None, high_v: float | None) -> Sheet:
    if low_v is None and high_v is None:
        return sheet
    window, standing = sheet.need("supply.programming_v"), "given by the caller"
    if low_v is None or high_v is None:
        standing = f"one end {standing}, the other: {window.standing}"
    ends = (window.low if low_v is None else low_v, window.high if high_v is None else high_v)
    return sheets.given_instead(sheet, "supply.programming_v", ends, standing)


def identity(
    before: GivenCapture, after: GivenCapture, expected: str | None = None, *, module: str | None = None
) -> IdentityFindings:
    """Same car, new calibration, the ordered one?"""
    return _identity.identity(
        _recording(before),
        _recording(after),
        None if expected is None else _text(expected, "a calibration"),
        _name(module),
    )


def air(capture: GivenCapture, sheet: GivenSheet = None, *, module: str | None = None) -> AirFindings:
    """Does the engine breathe as it meters?"""
    return _air.air(_recording(capture), load_sheet(sheet), _name(module))


def compare(
    before: GivenCapture, after: GivenCapture, sheet: GivenSheet = None, *, module: str | None = None
) -> CompareFindings:
    """The idle of two captures side by side. Judges nothing."""
    return _compare.compare(_recording(before), _recording(after), load_sheet(sheet), _name(module))


def _recording(capture: GivenCapture) -> Recording:
    return capture if isinstance(capture, Recording) else load(capture)


def _path(given: object, what: str) -> Path:
    """`given` as a path. ChoiceError for what is none."""
    if not isinstance(given, Path | str) or not str(given) or "\0" in str(given):
        raise ChoiceError(f"{what} is given by its path, not as {given!r}", remedy="give it as text or a Path")
    return Path(given)


def _text(given: object, what: str) -> str:
    if not isinstance(given, str):
        raise ChoiceError(f"{what} is given by its name, not as {given!r}", remedy="give it as text")
    return given


def _name(module: object) -> str | None:
    return None if module is None else _text(module, "a module")


def _events(given: object) -> tuple[str, ...]:
    if isinstance(given, str) or not isinstance(given, Iterable):
        raise ChoiceError(f"events are given as a list, not as {given!r}", remedy='write ["reprogrammed"] for one')
    return tuple(_text(one, "an event") for one in given)
