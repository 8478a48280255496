"""Values to data bytes, the inverse of the decoder; a model of a car and the tests write answers with it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from relearn.errors import ProcedureError
from relearn.j1979.table import Parameter, Signal, parameters

REMEDY = "use a parameter and channel name of the parameter table, with a number"


def encode(pid: int, values: Mapping[str, float]) -> bytes:
    """The data bytes of one parameter: each value rounded to the nearest raw number and clipped to its field.

    Sets the present bits of the signals given. A signal not given is zero, or its 'not used' number if it has
    one. ProcedureError: a parameter or channel that is not in the table, a value that is no number, or
    channels that one answer cannot carry together.
    """
    parameter = parameters().get(pid)
    if parameter is None:
        raise ProcedureError(f"parameter {pid:02X} is not in the table", remedy=REMEDY)
    named = {signal.name: signal for signal in parameter.signals}
    for name in values:
        if name not in named:
            raise ProcedureError(f"parameter {pid:02X} has no channel '{name}'", remedy=REMEDY)
    word = 0
    for signal in parameter.signals:
        word |= _placed(_raw(signal, values), signal, parameter)
    given = [named[name] for name in values]
    for signal in given:
        word |= _bit(signal.present_bit, parameter)
    for signal in given:
        if word & _bit(signal.absent_bit, parameter):
            raise ProcedureError(f"no answer carries '{signal.name}' beside the other channels", remedy=REMEDY)
    return word.to_bytes(parameter.length, "big")


def _raw(signal: Signal, values: Mapping[str, float]) -> int:
    if signal.name not in values:
        return signal.not_used or 0
    value = values[signal.name]
    if math.isnan(value):
        raise ProcedureError(f"'{signal.name}' was given no number", remedy=REMEDY)
    low, high = signal.raw_limits()
    return round(min(max((value - signal.offset) / signal.scale, low), high))


def _placed(raw: int, signal: Signal, parameter: Parameter) -> int:
    """The raw number at its place in the data bytes, taken as one big-endian word."""
    return (raw & ((1 << signal.bits) - 1)) << (8 * parameter.length - signal.first_bit - signal.bits)


def _bit(place: int | None, parameter: Parameter) -> int:
    return 0 if place is None else 1 << (8 * parameter.length - 1 - place)
