"""Freeze frames: what a module stored when a code was set, kept well apart from live values."""

from __future__ import annotations

import numpy as np

from relearn.isotp import Messages
from relearn.j1979 import folding
from relearn.j1979.codes import trouble_code
from relearn.j1979.decode import decode_rows
from relearn.j1979.records import MASKS, FreezeFrame
from relearn.j1979.split import Pieces, data_of
from relearn.j1979.table import parameters

CODE_PID = 0x02


def freeze_frames(messages: Messages, samples: Pieces) -> tuple[FreezeFrame, ...]:
    """The newest value of each parameter of each frame. samples: of service 02, frame number before data."""
    number = messages.payload[samples.at - 1].astype(np.int64)
    numbered = Pieces(samples.row, number << 8 | samples.identifier, samples.at)
    newest: dict[tuple[str, int], dict[int, Pieces]] = {}
    for module, identifier, part in folding.groups(messages, numbered):
        last = part.take(np.array([len(part) - 1]))
        newest.setdefault((module, identifier >> 8), {})[identifier & 0xFF] = last
    made = (_frame(messages, module, frame, by_pid) for (module, frame), by_pid in newest.items())
    return tuple(frame for frame in made if frame is not None)


def _frame(messages: Messages, module: str, number: int, by_pid: dict[int, Pieces]) -> FreezeFrame | None:
    code = _code(messages, by_pid.get(CODE_PID))
    values = {
        name: value
        for pid, piece in by_pid.items()
        if pid not in MASKS | {CODE_PID}
        for name, value in _values(messages, pid, piece).items()
    }
    if code == 0 or not (values or code):
        return None
    time_s = max(float(messages.time_s[piece.row[0]]) for piece in by_pid.values())
    return FreezeFrame(module, number, values, trouble_code(code) if code else None, time_s)


def _code(messages: Messages, piece: Pieces | None) -> int | None:
    return None if piece is None else int.from_bytes(data_of(messages, piece.at, 2).tobytes(), "big")


def _values(messages: Messages, pid: int, piece: Pieces) -> dict[str, float]:
    parameter = parameters()[pid]
    decoded = decode_rows(parameter, data_of(messages, piece.at, parameter.length))
    return {signal.name: float(value[0]) for signal, value, carried in decoded if carried[0]}
