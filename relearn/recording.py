"""One file read once, all the way up to decoded values: what every question is asked of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from relearn.capture import hashing, load
from relearn.capture.frames import Capture, Frames, Table
from relearn.capture.keep import KEEP_DIAGNOSTIC, is_answer, is_request
from relearn.errors import CaptureError, MapError
from relearn.faults import Fault
from relearn.isotp import reassemble
from relearn.j1979.answers import read as read_answers
from relearn.j1979.records import Answers, Codes, FreezeFrame, Identity, RawParameter, Refusal, Support
from relearn.j1979.series import BROADCAST, TABLE, Series
from relearn.samples import is_export, tidy
from relearn.traffic import NEVER, Traffic, heard, traffic

if TYPE_CHECKING:
    import pandas as pd

NO_DATABASE = "a table of values needs no signal database, so it was read without"


@dataclass(frozen=True, eq=False)
class Recording:
    """Everything a capture holds.

    series: every channel of every module, as its values came. start_unix_s: wall clock of time zero, None where the
    file has none.
    modules: every module that answered, lowest identifier first; 'broadcast' and 'table' stand for the other sources.
    faults: trouble in the file, the transport and the answers; notes: plain sentences about how it was read.
    traffic: when each module spoke and was asked.
    """

    path: Path
    sha256: str
    start_unix_s: float | None
    duration_s: float
    series: tuple[Series, ...]
    modules: tuple[str, ...]
    total_frames: int = 0
    support: Mapping[str, Support] = field(default_factory=dict)
    identity: tuple[Identity, ...] = ()
    codes: tuple[Codes, ...] = ()
    refusals: tuple[Refusal, ...] = ()
    freeze_frames: tuple[FreezeFrame, ...] = ()
    raw: tuple[RawParameter, ...] = ()
    pending_count: int = 0
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()
    traffic: Mapping[str, Traffic] = field(default_factory=dict)

    def __repr__(self) -> str:
        """One short line: millions of values are nothing to print."""
        modules = ", ".join(self.modules) or "none"
        return f"<Recording {self.path}: {self.duration_s:.1f} s; modules: {modules}; channels: {len(self.series)}>"

    @property
    def samples(self) -> pd.DataFrame:
        """The tidy table of all values (samples.COLUMNS). A copy: whoever changes it changes no recording."""
        return self.table.copy()

    @cached_property
    def table(self) -> pd.DataFrame:
        """`samples` itself, made when first asked for; only to read."""
        return tidy(self.series)


def read(path: Path, database: Path | None = None, mapping: Path | None = None) -> Recording:
    """Read a capture or a table of values; with `database` (DBC) a capture's broadcast signals become channels too.

    `mapping` is the user's TOML map of signal or column names to channels.
    Raises CaptureError where the file holds nothing that can be used, or is what relearn itself wrote of a capture
    (samples.is_export); SheetError for a bad map or database, MapError where the map can name nothing of this file.
    """
    digest = hashing(path)
    return replace(_read(path, database, mapping), sha256=digest())


def _read(path: Path, database: Path | None, mapping: Path | None) -> Recording:
    """Its sha256 is not known yet."""
    if is_export(path):
        raise CaptureError(
            "holds the samples that relearn wrote of a capture, and is no capture itself",
            path=path,
            remedy="ask the capture that they came from",
        )
    if database is not None:
        return _from_database(path, database, mapping)
    capture = load(path, KEEP_DIAGNOSTIC)
    if capture.table is not None:
        return _from_table(capture, capture.table, mapping)
    if capture.frames is None or not is_answer(capture.frames.identifier, capture.frames.extended).any():
        raise _no_answers(capture)
    if mapping is not None:
        raise MapError(
            "a map names the columns of a table or the signals of a database",
            path=mapping,
            remedy="leave the map out, or give a database too",
        )
    return _from_frames(capture, capture.frames, ())


def _from_table(capture: Capture, table: Table, mapping: Path | None, notes: tuple[str, ...] = ()) -> Recording:
    """A table's columns as series. notes: what is said besides of how it was read."""
    from relearn.j1979 import columns

    series, faults, said = columns.read(table, mapping, capture.path)
    return _recording(capture, series, (TABLE,), faults, (*said, *notes))


def live(capture: Capture, database: Path | None = None, mapping: Path | None = None) -> Recording:
    """What a recording that is still being made holds so far. Its file is not finished, so sha256 is ''; that nobody
    has answered yet is no error but a recording without modules. Errors as `read` has them for database and mapping."""
    frames = capture.frames
    if frames is None:
        raise ValueError("a live capture has frames")
    if database is None:
        return _from_frames(capture, frames, ())
    from relearn.j1979 import dbc

    return _from_frames(capture, frames, dbc.read(frames, dbc.database(database), mapping))


def until(recording: Recording, time_s: float) -> Recording:
    """The recording as it stood at time_s, and ending there, with nothing of what came later. At its end or after: all.

    Samples, codes, identity, refusals, freeze frames, faults and traffic with time ≤ time_s stay; modules that had not
    spoken yet are gone. What a recording keeps without times cannot be cut: what a module supports (it never changes),
    how often it refused or asked for patience, how many faults are folded into one, and notes.
    """
    if time_s >= recording.duration_s:
        return recording
    heard_by = {name: _traffic_until(one, time_s) for name, one in recording.traffic.items()}
    spoken = {name: one for name, one in heard_by.items() if len(one.answered_s)}
    last_frame = max((int(one.frame.max()) for one in spoken.values()), default=0)
    return replace(
        recording,
        duration_s=time_s,
        series=tuple(cut for one in recording.series if len(cut := _series_until(one, time_s))),
        modules=tuple(name for name in recording.modules if name in spoken),
        support={name: one for name, one in recording.support.items() if name in spoken},
        identity=tuple(one for one in recording.identity if one.time_s <= time_s),
        codes=tuple(one for one in recording.codes if one.time_s <= time_s),
        refusals=tuple(one for one in recording.refusals if one.first_s <= time_s),
        freeze_frames=tuple(one for one in recording.freeze_frames if one.time_s <= time_s),
        raw=tuple(one for one in recording.raw if one.first_frame <= last_frame),
        faults=tuple(one for one in recording.faults if _known(one, time_s, last_frame)),
        traffic=spoken,
    )


def _series_until(one: Series, time_s: float) -> Series:
    by_then = one.time_s <= time_s
    return replace(one, time_s=one.time_s[by_then], value=one.value[by_then], frame=one.frame[by_then])


def _traffic_until(all_of_it: Traffic, time_s: float) -> Traffic:
    answered_s, frame = all_of_it.answered_s, all_of_it.frame
    return Traffic(
        answered_s[answered_s <= time_s],
        frame[answered_s <= time_s],
        all_of_it.asked_s[all_of_it.asked_s <= time_s],
        all_of_it.others_s[all_of_it.others_s <= time_s],
    )


def _known(fault: Fault, time_s: float, last_frame: int) -> bool:
    """Whether a fault was there at time_s: by its time, else by its frame; one without either is the file's own."""
    if fault.time_s is not None:
        return fault.time_s <= time_s
    return fault.first_frame is None or fault.first_frame <= last_frame


def _from_database(path: Path, named: Path, mapping: Path | None) -> Recording:
    from relearn.j1979 import dbc  # cantools takes long to import, and most captures need no database

    database = dbc.database(named)
    capture = load(path, dbc.keep_for(database))
    if capture.table is not None:
        return _from_table(capture, capture.table, mapping, (NO_DATABASE,))
    if capture.frames is None:
        raise _no_answers(capture)
    series = dbc.read(capture.frames, database, mapping)
    if not series and not is_answer(capture.frames.identifier, capture.frames.extended).any():
        raise CaptureError(
            "none of its frames is described by the signal database", path=path, remedy="give the database of this car"
        )
    return _from_frames(capture, capture.frames, series)


def _from_frames(capture: Capture, frames: Frames, broadcast: tuple[Series, ...]) -> Recording:
    """Answers and broadcast side by side; the broadcast counts as one more module."""
    answers, heard_from, transport = _by_bus(frames)
    modules = (*answers.modules, *dict.fromkeys(one.module for one in broadcast))
    return Recording(
        path=capture.path,
        sha256="",
        start_unix_s=capture.start_unix_s,
        duration_s=capture.duration_s,
        series=(*answers.series, *broadcast),
        modules=modules,
        total_frames=capture.total_frames,
        support=answers.support,
        identity=answers.identity,
        codes=answers.codes,
        refusals=answers.refusals,
        freeze_frames=answers.freeze_frames,
        raw=answers.raw,
        pending_count=answers.pending_count,
        faults=(*capture.faults, *transport, *answers.faults),
        notes=capture.notes,
        traffic={**heard_from, **({BROADCAST: _heard(broadcast)} if broadcast else {})},
    )


def _by_bus(frames: Frames) -> tuple[Answers, Mapping[str, Traffic], tuple[Fault, ...]]:
    """What was answered on each bus. Two buses' equal identifiers are two modules: the second is named with its bus."""
    found: Answers | None = None
    spoken: dict[str, Traffic] = {}
    transport: tuple[Fault, ...] = ()
    for bus in np.unique(frames.bus):
        here = frames.take(frames.bus == bus)
        messages = reassemble(here)
        answers, traffic_here = read_answers(messages), traffic(here)
        names = {name: f"{name}-bus{bus}" for name in answers.modules if found is not None and name in found.modules}
        answers = answers.renamed(names)
        found = answers if found is None else found.joined(answers)
        spoken |= {names.get(name, name): one for name, one in traffic_here.items()}
        transport += messages.faults
    return found or read_answers(reassemble(frames)), spoken, transport


def _heard(series: tuple[Series, ...], asked_s: NDArray[np.float64] = NEVER) -> Traffic:
    return heard([one.time_s for one in series], [one.frame for one in series], asked_s)


def _recording(
    capture: Capture,
    series: tuple[Series, ...],
    modules: tuple[str, ...],
    faults: tuple[Fault, ...],
    notes: tuple[str, ...],
) -> Recording:
    return Recording(
        path=capture.path,
        sha256="",
        start_unix_s=capture.start_unix_s,
        duration_s=capture.duration_s,
        series=series,
        modules=modules,
        faults=(*capture.faults, *faults),
        notes=(*capture.notes, *notes),
        traffic={TABLE: _heard(series, capture.table.time_s if capture.table is not None else NEVER)},
    )


def _no_answers(capture: Capture) -> CaptureError:
    """Why nothing can be read: no frames, only a tester's questions, or no diagnostics at all."""
    frames = capture.frames
    if frames is not None and is_request(frames.identifier, frames.extended).any():
        return CaptureError(
            f"it holds only requests ({len(frames)} frames) and no answer of any module",
            path=capture.path,
            remedy="record both directions, with the ignition on",
        )
    return CaptureError(
        f"none of its {capture.total_frames} frames is diagnostic (7DF, 7E0 to 7EF, 18DAxxxx)",
        path=capture.path,
        remedy="record while a tester asks, or give a signal database to read broadcast frames",
    )
