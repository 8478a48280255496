"""A recording is never put on a bus that may lead to a car, unless a person says that there is none."""

import os

import pytest

from tests.cli.run import CAPTURES, relearn


@pytest.mark.parametrize("command", ["answer", "replay"])
def test_a_real_adapter_needs_a_word(command: str) -> None:
    """An slcan adapter at the end of a pseudo-terminal: nothing but its opening commands is ever written to it."""
    ours, theirs = os.openpty()
    words = ("--interface", "slcan", "--channel", os.ttyname(theirs), "--option", "sleep_after_open=0")
    ran = relearn(command, str(CAPTURES / "stall.log"), *words)
    written = os.read(ours, 4096)
    os.close(ours)
    os.close(theirs)
    assert ran.code == 2
    assert "--no-car" in ran.err
    assert b"t7" not in written and b"T" not in written
