"""A live bus on the page: it plays, what falls silent is shown and comes back, and Ctrl-C leaves a whole file."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from relearn.recording import read
from tests.cli.run import CAPTURES
from tests.screen.browser import chromium, moves_on, opened, row, verdict
from tests.screen.raw import free_udp_port
from tests.screen.served import command, served

GROUP = "239.74.163.2"


TEXTS = """
window.drawn = [];
const fill = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (text, ...rest) {
  const chart = this.canvas.closest('.strip').textContent;
  if (chart.includes('Airflow') || chart.includes('Pedal')) drawn.push(String(text));
  return fill.call(this, text, ...rest);
};
"""
"""Notes what is written into the charts that have no limits."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


def on(port: int) -> tuple[str, ...]:
    """A bus of this machine alone."""
    options = ("--option", f"port={port}", "--option", "hop_limit=0")
    return ("--interface", "udp_multicast", "--channel", GROUP, *options)


@contextmanager
def car(port: int, cwd: Path, *more: str) -> Iterator[subprocess.Popen[str]]:
    """A cold car in another process."""
    process = command("answer", CAPTURES / "cold.log", *on(port), *more, cwd=cwd)
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def test_a_car_that_is_killed_is_shown_and_comes_back(browser: Browser, tmp_path: Path) -> None:
    port, out = free_udp_port(), tmp_path / "live.log"
    with served(*on(port), "--out", out, cwd=tmp_path) as server:
        assert any(line == f"recording to {out}\n" for line in server.said)
        page = opened(browser, server.url, TEXTS)
        state = page.locator(".top .state")
        expect(state).to_have_text(re.compile("Waiting for the first answer|No data"))
        page.wait_for_function("drawn.length > 0")
        assert page.evaluate("drawn.filter((text) => !text.includes(':') && /\\d/.test(text))") == []
        with car(port, tmp_path) as answering:
            expect(verdict(page, "Ready?")).to_have_text("no")
            expect(row(page, "coolant-warm").locator(".value")).to_contain_text("°C")
            expect(state).to_have_text("")
            moves_on(page)
            answering.kill()
            expect(state).to_have_text(re.compile("No data"))
        with car(port, tmp_path, "--from", "60"):
            expect(state).to_have_text("")
            moves_on(page)
            assert server.end() == 0
    recorded = read(out)
    assert {"engine_speed", "coolant_temperature"} <= set(recorded.samples["channel"])
    assert out.read_bytes().endswith(b"\n")
