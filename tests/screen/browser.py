"""A real browser for the tests, and what they look at on the page."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WAIT_MS = 30_000  # long, for a machine under load: a condition that holds ends it
MISSING = "the tests of the screen need a browser: install it with apt-get install chromium, or put one on the PATH"

expect.set_options(timeout=WAIT_MS)


@contextmanager
def chromium() -> Iterator[Browser]:
    """The browser of this machine, with an empty profile. Where there is none the tests fail; none is left out."""
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    assert path is not None, MISSING
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


def opened(browser: Browser, url: str) -> Page:
    """A page of somebody with a browser of his own: no cookie, no storage of anybody else."""
    page = browser.new_context(viewport={"width": 1280, "height": 720}, accept_downloads=True).new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(url)
    return page


def button(page: Page, text: str) -> Locator:
    return page.get_by_role("button", name=text, exact=True)


def question(page: Page, asks: str) -> Locator:
    return page.locator(f'[data-question="{asks}"]')


def verdict(page: Page, asks: str) -> Locator:
    """The word beside a question."""
    return question(page, asks).locator(".word")


def row(page: Page, name: str) -> Locator:
    """One precondition or step."""
    return page.locator(f'[data-row="{name}"]')


def strips(page: Page) -> Locator:
    """The charts."""
    return page.locator(".strips")


def clock(page: Page) -> Locator:
    """Where the source stands: '0:12.3'."""
    return page.locator(".top .clock")


def go_to(page: Page, time_s: float) -> None:
    """Drag the place to a moment."""
    page.get_by_label("moment", exact=True).evaluate(
        "(one, at) => { one.value = at; one.dispatchEvent(new Event('input', { bubbles: true })); }", time_s
    )


def shows(time: str) -> re.Pattern[str]:
    """A clock at this second, whatever its tenth."""
    return re.compile(rf"^{re.escape(time)}\.\d$")
