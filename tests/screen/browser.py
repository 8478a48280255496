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


def opened(browser: Browser, url: str, first: str = "") -> Page:
    """A page of somebody with a browser of his own: no cookie of anybody else. first: a script that runs first."""
    page = browser.new_context(viewport={"width": 1280, "height": 720}).new_page()
    page.set_default_timeout(WAIT_MS)
    page.add_init_script(first)
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


def said(page: Page, name: str) -> Locator:
    """The words of one precondition or step; they begin with its verdict."""
    return row(page, name).locator(".said")


def strips(page: Page) -> Locator:
    """The charts."""
    return page.locator(".strips")


def away(page: Page) -> Locator:
    """The sign that the charts do not follow."""
    return page.locator(".away")


def clock(page: Page) -> Locator:
    """Where the source stands: '0:12.3'."""
    return page.locator(".top .clock")


def go_to(page: Page, time_s: float) -> None:
    """Drag the place to a moment."""
    page.get_by_label("moment", exact=True).evaluate(
        "(one, at) => { one.value = at; one.dispatchEvent(new Event('input', { bubbles: true })); }", time_s
    )


def moves_on(page: Page) -> None:
    """The charts are drawn again and the clock goes on."""
    drawn, shown = strips(page).get_attribute("data-drawn"), clock(page).inner_text()
    expect(strips(page)).not_to_have_attribute("data-drawn", str(drawn))
    expect(clock(page)).not_to_have_text(shown)


def begins(word: str) -> re.Pattern[str]:
    """A text that begins with this word."""
    return re.compile(rf"^{re.escape(word)}\b")
