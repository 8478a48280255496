"""The page in a process of its own, as its user starts it; told by what it prints."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

END_S = 60.0


@dataclass(frozen=True)
class Served:
    """A page that can be reached. links: of --share. said: the lines it has printed by then."""

    process: subprocess.Popen[str]
    url: str
    links: tuple[str, ...]
    said: tuple[str, ...]

    @property
    def port(self) -> int:
        return urlsplit(self.url).port or 0

    def end(self) -> int:
        """Ctrl-C, and the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(END_S)


def environment() -> Mapping[str, str]:
    """Without what makes the framework take the server for a test of its own."""
    return {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST_", "NICEGUI_"))}


def command(*words: object, cwd: Path) -> subprocess.Popen[str]:
    """A command of relearn, running."""
    return subprocess.Popen(
        [sys.executable, "-m", "relearn", *map(str, words)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        env=environment(),
        cwd=cwd,
    )


@contextmanager
def served(*words: object, cwd: Path, links: int = 0) -> Iterator[Served]:
    """`relearn screen` on a port of its own, until the block ends."""
    process = command("screen", *words, "--port", 0, "--no-browser", cwd=cwd)
    try:
        yield _reached(process, links)
    finally:
        process.kill()
        process.communicate()


def _reached(process: subprocess.Popen[str], links: int) -> Served:
    assert process.stdout is not None
    said: list[str] = []
    while len(found := [line for line in said if line.startswith("http://")]) < 1 + links:
        line = process.stdout.readline()
        assert line, f"the page did not start: {''.join(said)}"
        said.append(line)
    return Served(process, found[0].split()[0], tuple(one.strip() for one in found[1:]), tuple(said))
