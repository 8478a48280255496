"""Reading only, by construction: one function sends, and nothing but reading questions can be put into it.

What reads and what changes is judged here by the standards and not by the package's own tables: services of SAE J1979 /
ISO 15031-5 (04 clears codes, 08 actuates), of ISO 14229-1 (22 reads; 10, 11, 14, 27, 28, 2E, 2F, 31, 34 to 37, 85 … do
not), SAE J1979-2 (F4xx, F8xx), and the identifiers of ISO 15765-4.
"""

from __future__ import annotations

import ast
import itertools
from collections.abc import Iterator
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import can
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import relearn
from relearn.bus import wire
from relearn.bus.address import Address
from relearn.bus.frame import Frame
from relearn.bus.speech import GoOn, Recorded, Reply, Request, Service
from relearn.errors import BusError

PACKAGE = Path(relearn.__file__).parent
DOOR = PACKAGE / "bus" / "wire.py"
READERS = PACKAGE / "capture"
TALKS = frozenset({"Bus", "Notifier", "ThreadSafeBus", "send", "send_periodic", "recv", "_recv_internal"})
OTHER_WAYS_OUT = frozenset({"isotp", "udsoncan", "serial", "socket", "usb", "ctypes", "pty", "termios"})


def modules() -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.Module) -> set[str]:
    """The top-level packages that a module imports, wherever in it."""
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    names |= {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) if not node.level}
    named = {name.partition(".")[0] for name in names}
    return named | {
        node.args[0].value.partition(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and _called(node) in ("import_module", "__import__")
        if node.args and isinstance(node.args[0], ast.Constant) and isinstance(node.args[0].value, str)
    }


def _called(node: ast.Call) -> str:
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def used(tree: ast.Module) -> set[str]:
    """Every attribute and every name imported from a module."""
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return attributes | {
        alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names
    }


def test_only_the_door_and_the_file_readers_know_python_can() -> None:
    knows = {path for path, tree in modules() if "can" in imported(tree)}
    assert DOOR in knows
    assert {path for path in knows if READERS not in path.parents} == {DOOR}


def test_nobody_but_the_door_talks_to_a_bus() -> None:
    talks = {path for path, tree in modules() if TALKS & used(tree)}
    assert talks == {DOOR}


def test_the_door_sends_in_one_place() -> None:
    tree = ast.parse(DOOR.read_text(encoding="utf-8"))
    sends = [
        (function.name, node.lineno)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef)
        for node in ast.walk(function)
        if isinstance(node, ast.Attribute) and node.attr.startswith("send")
    ]
    assert [name for name, _ in sends] == ["send"]


def test_there_is_no_other_way_out_of_the_package() -> None:
    found = {(path.name, name) for path, tree in modules() for name in OTHER_WAYS_OUT & imported(tree)}
    assert not found


def test_a_car_is_played_and_a_recording_replayed_only_where_that_is_meant() -> None:
    makes = {
        (path.name, _called(node))
        for path, tree in modules()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and _called(node) in ("Reply", "Recorded")
    }
    assert makes == {("answering.py", "Reply"), ("replay.py", "Recorded")}


# What may be on the bus, by the standards.
READS = frozenset({0x01, 0x02, 0x03, 0x07, 0x09, 0x0A, 0x22})


def is_tester(identifier: int, extended: bool) -> bool:
    if extended:
        return identifier == 0x18DB33F1 or (identifier & 0xFFFF00FF) == 0x18DA00F1
    return identifier == 0x7DF or 0x7E0 <= identifier <= 0x7E7


def harmless_question(data: bytes) -> bool:
    """A single frame of a reading service, or flow control (ISO 15765-2: N_PCI type 3)."""
    if data[0] >> 4 == 3:
        return True
    length = data[0]
    if not 1 <= length <= 7 or len(data) <= length or data[1] not in READS:
        return False
    return data[1] != 0x22 or all(high in (0xF4, 0xF8) for high in data[2 : 1 + length : 2])


class Ear(can.BusABC):
    """A bus that only keeps what was sent."""

    def __init__(self) -> None:
        super().__init__(channel="ear")
        self._is_shutdown = True  # there is nothing to close
        self.heard: list[can.Message] = []

    def send(self, msg: can.Message, timeout: float | None = None) -> None:
        self.heard.append(msg)

    def _recv_internal(self, timeout: float | None) -> tuple[can.Message | None, bool]:
        return None, True


numbers = st.one_of(
    st.integers(-2, 0x2FFFFFFF),
    st.sampled_from([0x7DF, 0x7E0, 0x7E7, 0x7E8, 0x7EF, 0x18DB33F1, 0x18DA10F1, 0x18DAF110, 0x18DAFFF1]),
    st.integers(0xF3FE, 0xF901),
    st.integers(0, 0x100),
)
anything = st.one_of(numbers, st.booleans(), st.none(), st.text(max_size=3), st.binary(max_size=9), st.floats())
lists = st.one_of(st.lists(numbers, max_size=7), st.lists(numbers, max_size=7).map(tuple), anything)


@st.composite
def attempts(draw: st.DrawFn) -> Any:
    """Something that somebody might try to say: the real types with any arguments, look-alikes, and anything else."""
    made: list[Any] = [anything]
    try:
        to: Any = Address(draw(anything), draw(st.booleans()))  # type: ignore[arg-type]
    except (BusError, TypeError):
        to = draw(anything)
    makers = [
        lambda: Request(to, draw(st.one_of(st.sampled_from(Service), anything)), draw(lists)),  # type: ignore[arg-type]
        lambda: GoOn(to),
        lambda: Reply(draw(anything), draw(st.booleans()), draw(st.binary(max_size=10))),  # type: ignore[arg-type]
        lambda: Recorded(Frame(0.0, draw(numbers), draw(st.booleans()), draw(st.binary(max_size=10)))),
        lambda: draw(st.sampled_from([can.Message(arbitration_id=0x7E0, data=[1, 4]), made])),
    ]
    try:
        return draw(st.sampled_from(makers))()
    except (BusError, TypeError, AttributeError):
        return None


@given(attempts())
@example(Request(Address(0x7DF), Service.CURRENT_DATA, (0x0C, 0x0D)))
@example(Request(Address(0x18DA10F1, True), Service.BY_IDENTIFIER, (0xF400, 0xF802)))
@example(GoOn(Address(0x7E0)))
@example(Recorded(Frame(0.0, 0x123, False, b"\x04")))
def test_whatever_is_tried_only_reading_goes_out(attempt: Any) -> None:
    ear = Ear()
    try:
        wire.send(ear, attempt, 0.0)
    except BusError:
        assert not ear.heard
        return
    (message,) = ear.heard
    if is_tester(message.arbitration_id, message.is_extended_id):
        assert harmless_question(bytes(message.data))
    else:
        assert type(attempt) in (Reply, Recorded)


@pytest.mark.parametrize(("service", "width"), list(itertools.product(range(0x100), range(7))))
def test_a_replay_leaves_out_every_question_that_does_not_read(service: int, width: int) -> None:
    data = bytes((1 + width, service, *([0xF4, 0x0C] * 3)[:width])).ljust(8, b"\0")
    try:
        Recorded(Frame(0.0, 0x7E0, False, data))
    except BusError:
        return
    assert service in READS


@pytest.mark.parametrize(
    "data",
    [
        "1008 2E F190 3132 33",  # the first frame of a write: no reading question needs more than one frame
        "21 34 35 36 37 38 39 30",
        "00 09 04 00 00 00 00 00 00",  # a single frame of CAN FD with its length in the second byte
        "02 22 F4",  # an identifier cut in half
        "03 22 F1 90",  # an identifier outside F4xx and F8xx
        "01 04",
        "",
    ],
)
def test_a_replay_leaves_out_what_is_no_whole_reading_question(data: str) -> None:
    with pytest.raises(BusError):
        Recorded(Frame(0.0, 0x7E0, False, bytes.fromhex(data.replace(" ", ""))))


def test_a_question_cannot_be_changed_once_it_is_made() -> None:
    question = Request(Address(0x7E0), Service.CURRENT_DATA, (0x0C,))
    with pytest.raises(FrozenInstanceError):
        question.service = 4  # type: ignore[misc, assignment]
    with pytest.raises(BusError):
        Request(Address(0x7E0), Service.CURRENT_DATA, [0x0C])  # type: ignore[arg-type]


def test_a_look_alike_is_not_sent() -> None:
    class Sly(GoOn):
        @property
        def data(self) -> bytes:
            return b"\x01\x04"

    ear = Ear()
    with pytest.raises(BusError):
        wire.send(ear, Sly(Address(0x7E0)), 0.0)
    assert not ear.heard
