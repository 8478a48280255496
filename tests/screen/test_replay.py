"""A capture played on the page: play, pause, speed, drag; a verdict follows its data; two browsers see the same.

The car that stalls (captures/stall.log): idles ready, dies at 32 s (captures/expected.toml).
"""

from __future__ import annotations

import re
import signal
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from relearn.analysis.settle import settle
from relearn.procedures.sheets import generic
from relearn.recording import read, until
from tests.cli.run import CAPTURES
from tests.screen.browser import (
    away,
    begins,
    button,
    chromium,
    clock,
    go_to,
    opened,
    question,
    row,
    said,
    strips,
    verdict,
)
from tests.screen.served import Served, served


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served(CAPTURES / "stall.log", cwd=tmp_path_factory.mktemp("replay")) as one:
        yield one


@pytest.fixture
def page(browser: Browser, server: Served) -> Iterator[Page]:
    one = opened(browser, server.url)
    yield one
    one.context.close()


def paused(page: Page) -> None:
    expect(clock(page)).to_have_text(re.compile(r"\d"))  # it knows by then whether it plays
    if button(page, "Pause").count():
        button(page, "Pause").click()
    expect(button(page, "Play")).to_be_visible()


def test_it_plays_pauses_and_goes_faster(page: Page) -> None:
    paused(page)
    go_to(page, 20.0)
    expect(clock(page)).to_have_text("0:20.0")
    button(page, "Play").click()
    expect(clock(page)).not_to_have_text("0:20.0")
    page.get_by_label("speed").select_option("20")
    expect(clock(page)).to_have_text("0:59.9")  # 40 s of the capture in 2 s
    expect(button(page, "Play")).to_be_visible()
    button(page, "Play").click()
    expect(button(page, "Pause")).to_be_visible()
    page.get_by_label("speed").select_option("0.5")
    paused(page)


def test_a_verdict_changes_when_its_data_does(page: Page) -> None:
    paused(page)
    go_to(page, 24.0)
    expect(verdict(page, "Ready?")).to_have_text("yes")
    expect(said(page, "engine-idling")).to_have_text(begins("yes"))
    go_to(page, 50.0)
    expect(verdict(page, "Ready?")).to_have_text("no")
    expect(said(page, "engine-idling")).to_have_text(begins("no"))


def test_two_browsers_see_the_same(browser: Browser, page: Page, server: Served) -> None:
    other = opened(browser, server.url)
    paused(page)
    for time_s, shown, ready in ((24.0, "0:24.0", "yes"), (45.5, "0:45.5", "no")):
        go_to(page, time_s)
        for one in (page, other):
            expect(clock(one)).to_have_text(shown)
            expect(verdict(one, "Ready?")).to_have_text(ready)
        assert question(page, "Ready?").inner_text() == question(other, "Ready?").inner_text()
    other.context.close()


def test_a_verdict_that_is_clicked_shows_what_decided_it(page: Page) -> None:
    paused(page)
    go_to(page, 50.0)
    expect(verdict(page, "Ready?")).to_have_text("no")
    strips(page).wait_for()
    judged_s = settle(until(read(CAPTURES / "stall.log"), 50.0), generic()).judged_s
    assert judged_s is not None
    expect(question(page, "Settled?").locator("[data-row]")).not_to_have_count(0)  # judged: there is a span to show
    expect(away(page)).to_have_count(0)
    question(page, "Settled?").locator(".head").click()
    expect(question(page, "Settled?").locator("[data-row]").first).to_be_visible()
    expect(strips(page)).to_have_attribute("data-focus", re.compile(r"^[\d.]+ [\d.]+$"))
    shown_s = [float(one) for one in (strips(page).get_attribute("data-focus") or "").split()]
    assert shown_s == pytest.approx(list(judged_s), abs=1e-3)
    expect(away(page)).to_contain_text("not following")


def test_the_view_follows_again_and_the_mark_goes(page: Page) -> None:
    paused(page)
    go_to(page, 50.0)
    expect(verdict(page, "Ready?")).to_have_text("no")
    row(page, "engine-idling").click()
    expect(strips(page)).to_have_attribute("data-focus", re.compile(r"\d"))
    expect(strips(page)).to_have_attribute("data-decides", "Engine speed")
    row(page, "supply").click()
    expect(strips(page)).to_have_attribute("data-decides", "Supply")
    button(page, "Follow the newest").click()
    expect(away(page)).to_have_count(0)
    assert strips(page).get_attribute("data-focus") is None


def test_what_the_pointer_reads_is_no_value_of_now(page: Page) -> None:
    paused(page)
    go_to(page, 50.0)
    moments = strips(page).locator(".then")
    expect(moments).to_have_count(0)
    strips(page).locator(".plot").first.hover()
    for one in moments.all():
        expect(one).to_have_text(re.compile(r"^at \d:\d"))
    assert moments.count() == strips(page).locator(".reading").count() > 0
    page.mouse.move(5, 5)
    expect(moments).to_have_count(0)


def test_all_verdicts_are_seen_at_once_and_lead_to_their_rows(page: Page) -> None:
    paused(page)
    go_to(page, 50.0)
    heads = page.locator("[data-head]")
    expect(heads).to_have_count(3)
    for one in heads.all():
        title = one.get_attribute("data-head") or ""
        expect(one.locator(".word")).to_have_text(verdict(page, title).inner_text())
        expect(one).to_be_in_viewport(ratio=1.0)
    page.locator('[data-head="Settled?"]').click()
    expect(strips(page)).to_have_attribute("data-focus", re.compile(r"\d"))
    expect(question(page, "Settled?").locator("[data-row]").first).to_be_in_viewport()
    for one in heads.all():
        expect(one).to_be_in_viewport(ratio=1.0)


def test_a_program_that_no_longer_speaks_is_shown(page: Page, server: Served) -> None:
    """Stopped, as a machine that hangs: whatever stands on the page is not current any more."""
    paused(page)
    expect(page.locator("body.cut-off")).to_have_count(0)
    server.process.send_signal(signal.SIGSTOP)
    try:
        expect(page.locator("body.cut-off")).to_have_count(1)
    finally:
        server.process.send_signal(signal.SIGCONT)
    expect(page.locator("body.cut-off")).to_have_count(0)


def test_what_one_browser_chooses_every_browser_shows(browser: Browser, page: Page, server: Served) -> None:
    other = opened(browser, server.url)
    paused(page)
    page.get_by_label("relearn", exact=True).select_option("throttle-closed-position")
    page.get_by_label("speed").select_option("5")
    expect(other.get_by_label("relearn", exact=True)).to_have_value("throttle-closed-position")
    expect(other.get_by_label("speed")).to_have_value("5")
    page.get_by_label("relearn", exact=True).select_option("idle-air-volume")
    expect(other.get_by_label("relearn", exact=True)).to_have_value("idle-air-volume")
    other.context.close()


def test_light_or_dark_stays_as_it_was_chosen(page: Page) -> None:
    dark = page.locator("body.body--dark")
    strips(page).wait_for()
    before = dark.count()
    button(page, "Light / dark").click()
    expect(dark).to_have_count(1 - before)
    page.reload()
    expect(dark).to_have_count(1 - before)


def test_a_finger_pans_and_two_zoom(page: Page) -> None:
    paused(page)
    go_to(page, 40.0)
    expect(verdict(page, "Ready?")).to_have_text("no")
    begun, ended = touched(page, [(20.0 * step,) for step in range(6)])
    assert begun > 0.0 or ended < 40.0
    wider, narrower = ended - begun, touched(page, [(-60.0 - 10 * step, 60.0 + 10 * step) for step in range(6)])
    assert narrower[1] - narrower[0] < wider


def touched(page: Page, fingers: list[tuple[float, ...]]) -> tuple[float, float]:
    """Fingers that move over the middle of the charts; from when to when the charts show then, as their sign says."""
    box = strips(page).locator(".plot").first.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + 20
    session = page.context.new_cdp_session(page)
    for kind, places in [("touchStart", fingers[0]), *(("touchMove", one) for one in fingers[1:]), ("touchEnd", ())]:
        points = [{"x": x + place, "y": y} for place in places]
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    expect(away(page)).to_contain_text("not following")
    page.wait_for_timeout(300)
    shown = re.findall(r"(\d+):([\d.]+)", away(page).inner_text())
    return tuple(60 * int(minute) + float(second) for minute, second in shown[:2])  # type: ignore[return-value]
