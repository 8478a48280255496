"""The parameter table as a CAN database for other tools: `python -m relearn.j1979.obd2_dbc FILE`.

One message, the answer of module 7E8 in a single frame: frame type, then service, then parameter choose what
the data bytes are; a bit that says whether a value is carried chooses once more. Parameters of more than five
data bytes do not fit a single frame and are left out. A DBC file is text in Windows-1252.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from relearn.j1979.table import Parameter, Signal, parameters

IDENTIFIER = 0x7E8
ENCODING = "cp1252"
HEAD_BYTES = 3  # length, service, parameter
ROOM = 8 - HEAD_BYTES
CARRIED = {0: "not carried", 1: "carried"}

HEAD = f"""VERSION ""

NS_ :

BS_:

BU_: Tester Module

BO_ {IDENTIFIER} obd2_answer: 8 Module
 SG_ frame_type M : 7|4@0+ (1,0) [0|15] "" Tester
 SG_ answer_length m0 : 3|4@0+ (1,0) [0|15] "" Tester
 SG_ service m0M : 15|8@0+ (1,0) [0|255] "" Tester
 SG_ parameter m65M : 23|8@0+ (1,0) [0|255] "" Tester
"""
COMMENTS = f"""
CM_ "SAE J1979 service 01 answers that fit one frame. Made from the parameter table; change that instead.";
CM_ BO_ {IDENTIFIER} "Holds only for answers of the right length: see answer_length.";
"""
VALUES = f"""
VAL_ {IDENTIFIER} frame_type 0 "single" 1 "first" 2 "consecutive" 3 "flow control" ;
VAL_ {IDENTIFIER} service 65 "current data" 66 "freeze frame" 67 "stored codes" 71 "pending codes" \
73 "vehicle information" 74 "permanent codes" 98 "data by identifier" 127 "refused" ;
"""
CHOOSERS = f"""
SG_MUL_VAL_ {IDENTIFIER} answer_length frame_type 0-0;
SG_MUL_VAL_ {IDENTIFIER} service frame_type 0-0;
SG_MUL_VAL_ {IDENTIFIER} parameter service 65-65;
"""


def text() -> str:
    """The whole database."""
    fitting = [parameter for parameter in parameters().values() if parameter.length <= ROOM]
    parts = ((HEAD, _signals), (COMMENTS, _comments), (VALUES, _values), (CHOOSERS, _choosers))
    return "".join(head + "".join(f"{line}\n" for one in fitting for line in lines(one)) for head, lines in parts)


def _signals(parameter: Parameter) -> Iterator[str]:
    bits = _condition_bits(parameter)
    for bit, name in bits.items():
        if name not in {signal.name for signal in parameter.signals}:
            yield f' SG_ {name} m{parameter.pid}M : {_start(bit)}|1@0+ (1,0) [0|1] "" Tester'
    for signal in parameter.signals:
        _, value = _chooser(signal, parameter)
        chooses = "M" if signal.name in bits.values() else ""
        scale, offset, low, high = (_number(one) for one in (signal.scale, signal.offset, *signal.limits()))
        yield (
            f" SG_ {signal.name} m{value}{chooses} : {_start(signal.first_bit)}|{signal.bits}@0"
            f'{"-" if signal.signed else "+"} ({scale},{offset}) [{low}|{high}] "{signal.unit}" Tester'
        )


def _comments(parameter: Parameter) -> Iterator[str]:
    for signal in parameter.signals:
        abbreviation = f" ({signal.abbreviation})" if signal.abbreviation else ""
        yield f'CM_ SG_ {IDENTIFIER} {signal.name} "{parameter.pid:02X}: {signal.title}{abbreviation}";'


def _values(parameter: Parameter) -> Iterator[str]:
    states = {signal.name: signal.states for signal in parameter.signals}
    for name in _condition_bits(parameter).values():
        states.setdefault(name, CARRIED)
    for signal in parameter.signals:
        if signal.not_used is not None:
            states[signal.name] = {signal.not_used: "not used"}
    for name, named in states.items():
        if named:
            listed = " ".join(f'{number} "{word}"' for number, word in named.items())
            yield f"VAL_ {IDENTIFIER} {name} {listed} ;"


def _choosers(parameter: Parameter) -> Iterator[str]:
    own = {signal.name for signal in parameter.signals}
    for name in _condition_bits(parameter).values():
        if name not in own:
            yield f"SG_MUL_VAL_ {IDENTIFIER} {name} parameter {parameter.pid}-{parameter.pid};"
    for signal in parameter.signals:
        name, value = _chooser(signal, parameter)
        yield f"SG_MUL_VAL_ {IDENTIFIER} {signal.name} {name} {value}-{value};"


def _chooser(signal: Signal, parameter: Parameter) -> tuple[str, int]:
    """Which signal decides that this one is there, and by which value."""
    bits = _condition_bits(parameter)
    if signal.present_bit is not None:
        return bits[signal.present_bit], 1
    if signal.absent_bit is not None:
        return bits[signal.absent_bit], 0
    return "parameter", parameter.pid


def _condition_bits(parameter: Parameter) -> Mapping[int, str]:
    """The bits that decide what is carried, with the signal of that bit or a name of their own."""
    places = {bit for signal in parameter.signals for bit in (signal.present_bit, signal.absent_bit) if bit is not None}
    own = {signal.first_bit: signal.name for signal in parameter.signals if signal.bits == 1}
    return {
        bit: own.get(bit, f"parameter_{parameter.pid:02x}_{'abcde'[bit // 8]}{7 - bit % 8}") for bit in sorted(places)
    }


def _start(bit: int) -> int:
    """A data bit (0: most significant of A) as a DBC bit number (0: least significant of frame byte 0)."""
    return 8 * (HEAD_BYTES + bit // 8) + 7 - bit % 8


def _number(value: float) -> str:
    """All digits, so that a reader of the file gets the same number."""
    return repr(int(value)) if value.is_integer() else repr(value)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(text(), encoding=ENCODING, newline="\n")
