"""The samples of a recording as a file for other tools: CSV, Parquet or MF4. Units stay with the values."""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from relearn.cells import guarded
from relearn.errors import ChoiceError
from relearn.recording import Recording
from relearn.samples import MF4_PROGRAM

MF4_LATEST_S = 2.0**63 / 1e9  # the header counts nanoseconds since 1970
WORDS = ("module", "channel", "unit")


def write(recording: Recording, path: Path) -> None:
    """Every sample of a recording as a new file, in the format that its suffix names (one of WRITERS).

    CSV and Parquet hold the tidy table (samples.COLUMNS) with its column of units; MF4 one channel group for each
    channel of each module, with its unit, where the frames' numbers have no place.
    ChoiceError: what `check` refuses, a missing extra, a place that cannot be written.
    """
    check(path)
    content = WRITERS[path.suffix.lower()](recording, path)
    try:
        with path.open("xb") as file:
            file.write(content)
    except OSError as wrong:
        raise ChoiceError(f"this file cannot be written ({wrong.strerror})", path=path, remedy="name another") from None


def check(path: Path) -> None:
    """ChoiceError for a suffix that is no format here, no folder, and a name that is taken: nothing is written over."""
    if path.suffix.lower() not in WRITERS:
        raise ChoiceError(
            f"has the suffix '{path.suffix}', which names no format to write",
            path=path,
            remedy=f"use one of {', '.join(WRITERS)}",
        )
    if path.exists():
        raise ChoiceError("this file exists, and nothing is written over", path=path, remedy="name another")
    if not path.parent.is_dir():
        raise ChoiceError("there is no folder for this file", path=path, remedy="make it, or name another file")


def _csv(recording: Recording, path: Path) -> bytes:
    """UTF-8, a comma between cells, numbers with all their digits; words that a spreadsheet would take for a formula
    stand behind an apostrophe.

    The module 7E8 also reads as the number 7 × 10⁸: tell whatever reads it that `module` is text.
    """
    table = recording.table
    safe = table.assign(**{name: table[name].cat.rename_categories(guarded) for name in WORDS})
    return safe.to_csv(index=False, lineterminator="\n").encode("utf-8")


def _parquet(recording: Recording, path: Path) -> bytes:
    """The columns with their types; what the capture was stands in the table's attrs."""
    table = recording.table.copy(deep=False)
    table.attrs = {"capture": _name(recording), "sha256": recording.sha256, "start_unix_s": recording.start_unix_s}
    file = io.BytesIO()
    try:
        table.to_parquet(file, engine="pyarrow", index=False)
    except ImportError:
        raise _missing_extra("parquet", path) from None
    return file.getvalue()


def _mf4(recording: Recording, path: Path) -> bytes:
    """ASAM MDF 4.10: times from the capture's start, and that start where the capture has a wall clock. The format
    wants one, so 1970 stands for none, as the header's comment says beside the capture's name and hash."""
    try:
        from asammdf import MDF, Signal
    except ImportError:
        raise _missing_extra("mf4", path) from None
    file = io.BytesIO()
    with MDF(version="4.10") as measured:
        clock = recording.start_unix_s is not None and 0 <= recording.start_unix_s < MF4_LATEST_S
        measured.start_time = datetime.fromtimestamp((recording.start_unix_s or 0.0) if clock else 0.0, UTC)
        told = "" if clock else "; its times are no wall clock, so no start is known"
        measured.header.comment = f"{_name(recording)}, sha256 {recording.sha256}{told}"
        for (module, channel), rows in recording.table.groupby(["module", "channel"], observed=True, sort=True):
            unit, value, time_s = str(rows["unit"].iloc[0]), rows["value"].to_numpy(), rows["time_s"].to_numpy()
            signal = Signal(value, time_s, name=str(channel), unit=unit, comment=f"module {module}")
            measured.append(signal, acq_name=str(module), comment=f"module {module} of {_name(recording)}")
        measured.identification.program_identification = MF4_PROGRAM
        measured.save(file)
    return file.getvalue()


def _name(recording: Recording) -> str:
    """The capture's file name, whatever bytes it has."""
    return recording.path.name.encode("utf-8", "backslashreplace").decode("utf-8")


def _missing_extra(extra: str, path: Path) -> ChoiceError:
    return ChoiceError(
        f"what writes {path.suffix} files is not installed",
        path=path,
        remedy=f'install it with pip install "relearn[{extra}]"',
    )


WRITERS: Mapping[str, Callable[[Recording, Path], bytes]] = {".csv": _csv, ".parquet": _parquet, ".mf4": _mf4}
