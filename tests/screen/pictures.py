"""The pictures of the page in README, made anew from the demo captures: python -m tests.screen.pictures [FOLDER]"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from relearn.drills.drill_file import DrillFile, Stop, to_toml
from tests.cli.run import CAPTURES
from tests.screen.browser import button, chromium, opened, verdict
from tests.screen.served import served

SHEET = ("--sheet", "demo-car")
CAPTURE, AT_S = "hunting.log", 60.0


def live(browser: Browser, out: Path) -> None:
    """A scenario that plays, ready: taken once the car is."""
    with served("demo-after", *SHEET, cwd=out) as server:
        page = opened(browser, server.url)
        expect(verdict(page, "Ready?")).to_have_text("yes", timeout=60_000)
        page.wait_for_timeout(6_000)  # some of it is to be seen as ready
        _taken(page, out / "screen-live.png")


def drill(browser: Browser, out: Path) -> None:
    """A question answered wrongly, with the evidence on the charts."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(CAPTURES / CAPTURE, folder)
        stop = Stop(capture=CAPTURE, at_s=AT_S, kind="settle")
        made = to_toml(DrillFile(title="Idle or not", sheet="demo-car", stop=(stop,)))
        (Path(folder) / "drill.toml").write_text(made, encoding="utf-8")
        with served(folder, *SHEET, cwd=Path(folder)) as server:
            page = opened(browser, server.url)
            button(page, "drill.toml").click()
            page.get_by_label("your name").fill("Trainee")
            button(page, "Begin").click()
            button(page, "Ask now").click()
            page.get_by_label("yes", exact=True).check()
            button(page, "Answer").click()
            expect(button(page, "Next")).to_be_visible()
            page.wait_for_timeout(1_500)  # the charts go to what decided
            _taken(page, out / "screen-drill.png")


def _taken(page: Page, path: Path) -> None:
    page.screenshot(path=path)
    page.context.close()


if __name__ == "__main__":
    with chromium() as browser:
        into = Path(sys.argv[1]) if len(sys.argv) > 1 else CAPTURES
        live(browser, into)
        drill(browser, into)
