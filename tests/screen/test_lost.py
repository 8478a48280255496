"""A module that falls silent while the engine runs: at once nothing stands there as current, and nothing is invented.

stall.log is ready at 24 s (captures/README.md); here its questions go unanswered from then on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.cli.run import CAPTURES
from tests.screen.browser import begins, chromium, clock, go_to, opened, row, said, strips, verdict
from tests.screen.served import served

SILENT_S = 24.0
ANSWER = " 7E8#"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def page(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    folder = tmp_path_factory.mktemp("lost")
    lines = (CAPTURES / "stall.log").read_text(encoding="ascii").splitlines()
    begun_s = stamp_s(lines[0])
    kept = [line for line in lines if ANSWER not in line or stamp_s(line) - begun_s < SILENT_S]
    (folder / "lost.log").write_text("\n".join([*kept, ""]), encoding="ascii")
    with served(folder / "lost.log", cwd=folder) as server:
        one = opened(browser, server.url)
        expect(clock(one)).to_have_text(re.compile(r"\d"))
        one.get_by_role("button", name="Pause", exact=True).click()
        strips(one).wait_for()
        yield one
        one.context.close()


def stamp_s(line: str) -> float:
    return float(line.partition(")")[0].strip("("))


def test_an_answer_is_not_shown_as_current_as_soon_as_data_is_lost(page: Page) -> None:
    go_to(page, SILENT_S - 0.2)
    expect(verdict(page, "Ready?")).to_have_text("yes")
    go_to(page, SILENT_S + 2.0)
    expect(page.locator(".top .state")).to_have_text("No data for 2 s")
    expect(verdict(page, "Ready?")).to_have_text("was yes")
    expect(page.locator('[data-head="Ready?"] .word')).to_have_text("was yes")
    expect(said(page, "engine-idling")).to_have_text(begins("was yes"))
    expect(row(page, "engine-idling").locator(".value.struck")).to_have_count(1)
    expect(page.locator(".side .verdict-yes")).to_have_count(0)


def test_what_grew_old_says_how_old_it_is(page: Page) -> None:
    go_to(page, SILENT_S + 20.0)
    expect(verdict(page, "Ready?")).to_have_text("cannot tell")
    expect(said(page, "coolant-warm")).to_have_text(begins("cannot tell"))
    expect(row(page, "coolant-warm").locator(".value.struck")).to_contain_text("°C")
    expect(row(page, "coolant-warm").locator(".margin")).to_have_text(re.compile(r"^last read 2[01] s ago$"))
