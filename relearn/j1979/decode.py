"""Data bytes to values: one rule for every row of the table, over any number of answers at once.

No parameter needs a function of its own: what makes some of them special (present bits, numbers that mean "not
used", bits that choose between meanings) is written in their rows.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from relearn.j1979.table import Parameter, Signal


def decode_rows(
    parameter: Parameter, data: NDArray[np.uint8]
) -> list[tuple[Signal, NDArray[np.float64], NDArray[np.bool_]]]:
    """Every signal of one parameter over many answers.

    data: uint8, shape (n, parameter.length). For each signal: its values in `signal.unit`, shape (n,), and
    whether each answer carries it at all. A value that is not carried is NaN.
    """
    decoded = []
    for signal in parameter.signals:
        raw = raw_numbers(signal, data)
        carried = is_carried(signal, raw, data)
        decoded.append((signal, np.where(carried, raw * signal.scale + signal.offset, np.nan), carried))
    return decoded


def raw_numbers(signal: Signal, data: NDArray[np.uint8]) -> NDArray[np.int64]:
    """The signal's bits as numbers, shape (n,), most significant bit first."""
    end = signal.first_bit + signal.bits
    raw = np.zeros(len(data), np.int64)
    for byte in range(signal.first_bit // 8, (end + 7) // 8):
        raw = (raw << 8) | data[:, byte]
    raw = (raw >> (-end % 8)) & ((1 << signal.bits) - 1)
    return np.where(raw >> (signal.bits - 1), raw - (1 << signal.bits), raw) if signal.signed else raw


def is_carried(signal: Signal, raw: NDArray[np.int64], data: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """True where the answer's own bits say that the signal is there and its number is in use."""
    carried = np.ones(len(data), np.bool_)
    if signal.present_bit is not None:
        carried &= _bit(signal.present_bit, data) == 1
    if signal.absent_bit is not None:
        carried &= _bit(signal.absent_bit, data) == 0
    if signal.not_used is not None:
        carried &= raw != signal.not_used
    return carried


def _bit(place: int, data: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return (data[:, place // 8] >> np.uint8(7 - place % 8)) & np.uint8(1)
