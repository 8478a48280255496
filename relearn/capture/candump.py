"""candump text, read fast: the diagnostic frames of a whole busy bus without a Python object for each frame.

The file goes by in blocks. Lines of the log form are skimmed first (skim.py), what is left is read with care
(candump_scan.py), both looking at all lines of a block at once. Malformed lines are counted and become one fault.
"""

from __future__ import annotations

from codecs import BOM_UTF8
from pathlib import Path

import numpy as np

from relearn.capture import assemble, files, marks
from relearn.capture.assemble import Part, Tally
from relearn.capture.blocks import BLOCK_BYTES, WAITING_BYTES, Blocks, Waiting
from relearn.capture.candump_forms import FORMS, Form, recognise
from relearn.capture.candump_scan import Reading, reading, scan
from relearn.capture.frames import Capture
from relearn.capture.keep import KEEP_DIAGNOSTIC, Keep
from relearn.capture.marks import Desk
from relearn.errors import CaptureError
from relearn.faults import Fault

HEAD_BYTES = 64 * 1024
DIFFERENCE_NS = 1000 * 1_000_000_000  # later times than this are no differences between two frames


def read(path: Path, keep: Keep = KEEP_DIAGNOSTIC) -> Capture:
    """The kept frames of a candump text, gzipped or not, in the log form or the plain form.

    CaptureError: no candump text, no times, not a single frame, time going backwards, a gzip file broken at its start.
    """
    gathered = reading(_form(path), keep)
    blocks = Blocks(path, BLOCK_BYTES)
    malformed, lines = _read_lines(gathered, blocks)
    faults = assemble.line_faults(malformed)
    if blocks.damage:
        faults.append(assemble.damage_fault(blocks.damage, gathered.span.last[0]))
    elif blocks.rest:
        faults += _read_unfinished(gathered, blocks.rest, lines + 1)
    faults += assemble.error_frame_fault(gathered.error_frames) + _dropped_fault(gathered.dropped_frames)
    if gathered.form is FORMS["plain"]:
        _refuse_differences(path, assemble.join(gathered.parts))
    return assemble.capture(path, gathered.parts, gathered.span, faults=faults, notes=_interfaces(gathered))


def _form(path: Path) -> Form:
    """The form of the text, from its beginning."""
    with files.open_binary(path) as file:
        try:
            head = file.read1(HEAD_BYTES)  # type: ignore[attr-defined]
        except files.GZIP_DAMAGE as error:
            raise files.broken_gzip(path, error) from error
    if b"\r" in head and b"\n" not in head:
        raise CaptureError(
            "ends its lines by returns alone", path=path, remedy="write newlines for them: tr '\\r' '\\n'"
        )
    name = recognise(head.removeprefix(BOM_UTF8).splitlines())
    if name == "untimed":
        raise CaptureError(
            "its lines carry no times",
            path=path,
            remedy="record again with times: candump -L can0, or candump -t a can0",
        )
    if name is None:
        raise CaptureError(
            "is no candump text: no line at its beginning has the form of a frame",
            path=path,
            remedy="record with candump -L can0, or give the file the suffix of its own format",
        )
    return FORMS[name]


def _read_lines(gathered: Reading, blocks: Blocks) -> tuple[Tally, int]:
    """Gather the frames of all whole lines; the malformed ones, and how many lines there were."""
    desk, waiting, malformed, lines = Desk(max(BLOCK_BYTES, WAITING_BYTES)), Waiting(), Tally(), 0
    unwanted_11 = np.append(~gathered.keep_11, False)
    for text in blocks:
        sifted = gathered.form.sift(text, unwanted_11, desk)
        if not waiting.has_room_for(sifted.text):
            _read_waiting(gathered, waiting, malformed, desk)
        waiting.add(sifted.text, sifted.rows + lines + 1)
        gathered.span.frames += sifted.lines - len(sifted.rows)
        lines += sifted.lines
    _read_waiting(gathered, waiting, malformed, desk)
    return malformed, lines


def _read_waiting(gathered: Reading, waiting: Waiting, malformed: Tally, desk: Desk) -> None:
    if waiting.size:
        for number in scan(gathered, marks.block(*waiting.drain(), desk)):
            malformed.meet(number)


def _interfaces(gathered: Reading) -> list[str]:
    """Several with frames that are kept are told: a name that was damaged in the file makes a second bus of one."""
    used = {bus for part in gathered.parts for bus in np.unique(part.bus).tolist()}
    names = sorted(name.decode("utf-8", "replace") for name, bus in gathered.buses.items() if bus in used)
    told = f"Several interfaces were recorded, whose modules are kept apart: {', '.join(names)}."
    return [told] if len(names) > 1 else []


def _dropped_fault(count: int) -> list[Fault]:
    text = f"The recorder itself noted that it missed {count} frame{'s' if count > 1 else ''}."
    return [Fault("dropped-frames", text, count=count)] if count else []


def _refuse_differences(path: Path, kept: Part) -> None:
    """CaptureError when the times are differences from line to line (`-t d`): small, and often falling."""
    falls = np.flatnonzero(np.diff(kept.time_ns) < 0)
    if len(falls) > len(kept.time_ns) / 10 and kept.time_ns.max() < DIFFERENCE_NS:
        raise CaptureError(
            "time falls again and again, as if counted from line to line",
            path=path,
            line=int(kept.number[falls[0] + 1]),
            remedy="record with times that go on: candump -L can0, or candump -t a can0",
        )


def _read_unfinished(gathered: Reading, text: bytes, number: int) -> list[Fault]:
    """Gather the frame of a last line without newline; a fault if it is cut off."""
    line = np.frombuffer(text + b"\n", np.uint8)
    cut_off = scan(gathered, marks.block([line], np.array([number]), Desk(len(line))))
    return assemble.cut_off_fault(number) if cut_off else []
