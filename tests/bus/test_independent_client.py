"""`relearn answer` in a process of its own, read by a client that shares no code with it: can-isotp's sockets on
python-can, over multicast that does not leave the machine. What it must say is in the capture, read by hand."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import can
import isotp
import pytest
from vininfo import Vin

from tests.bus.captures import CAPTURES, turns

GROUP = "239.74.163.2"
PORT = 44100 + int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:])  # a bus of its own for each test worker
NAME = "two-modules.log"
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C reaches a whole console there")
PATIENCE_S = 5.0  # only ever waited for in full when something is wrong


@pytest.fixture(scope="module")
def process() -> Iterator[subprocess.Popen[str]]:
    """The car, once it has said that it answers."""
    words = ("answer", CAPTURES / NAME, "--interface", "udp_multicast", "--channel", GROUP, "--option", f"port={PORT}")
    command = [sys.executable, "-m", "relearn", *map(str, words), "--from", "5"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        assert process.stdout is not None
        told = []
        for line in process.stdout:
            told.append(line)
            if line.startswith("answering on"):
                break
        assert process.poll() is None, "".join(told)
        process.told = "".join(told)  # type: ignore[attr-defined]
        yield process
        process.send_signal(signal.SIGINT)
        assert process.stdout.read().endswith("answered\nstopped\n")
        assert process.wait() == 0


@contextmanager
def client(number: int) -> Iterator[isotp.CanStack]:
    """A client of the module with this number."""
    bus = can.Bus(interface="udp_multicast", channel=GROUP, port=PORT, hop_limit=0)
    address = isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x7E0 + number, rxid=0x7E8 + number)
    stack = isotp.CanStack(bus, address=address, params={"tx_padding": 0x00})
    stack.start()
    try:
        yield stack
    finally:
        stack.stop()
        bus.shutdown()


def asked(stack: isotp.CanStack, question: str) -> str:
    """The answer, after any "response pending"."""
    stack.send(bytes.fromhex(question))
    while (said := stack.recv(block=True, timeout=PATIENCE_S)) is not None:
        if said[0] != 0x7F or said[2] != 0x78:
            return bytes(said).hex().upper()
    raise AssertionError(f"no answer to {question}")


def captured(question: str, module: int) -> str:
    """What the module said last to this question in the capture's first seconds."""
    said = [turn for turn in turns(NAME) if turn.payload.hex() == question.lower() and turn.time_s < 5.0]
    return said[-1].answers[module][-1].hex().upper()


def test_the_engine_module_says_who_it_is(process: subprocess.Popen[str]) -> None:
    with client(0) as engine:
        vin = bytes.fromhex(asked(engine, "0902"))[3:].decode("ascii")
        assert vin in process.told  # type: ignore[attr-defined]
        assert Vin(vin).verify_checksum()  # vininfo, after 49 CFR 565
        for question in ("0902", "0904", "0906", "090A", "03", "07", "0A", "0100", "0140"):
            assert asked(engine, question) == captured(question, 0x7E8)


def test_the_transmission_module_says_its_own(process: subprocess.Popen[str]) -> None:
    with client(1) as transmission:
        for question in ("0904", "0906", "03", "07", "0A"):
            assert asked(transmission, question) == captured(question, 0x7E9)
        assert asked(transmission, "07") == "47010741"  # P0741 pends, SAE J2012


def test_what_would_change_something_is_refused(process: subprocess.Popen[str]) -> None:
    with client(0) as engine:
        assert asked(engine, "04") == "7F0411"  # ISO 14229-1: service not supported
        assert asked(engine, "22F40C") == "7F2211"
