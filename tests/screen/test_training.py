"""A folder whose every text means harm, and a class that trains in it: from the choice to the score and its CSV.

What is right in the drill stands in captures/README.md: the car of stall.log is ready until its engine dies at 32 s,
and then its idle is not settled.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from relearn.recording import read
from tests.cli.run import CAPTURES
from tests.screen.browser import begins, button, chromium, moves_on, opened, said, strips, verdict
from tests.screen.raw import HERE, asked
from tests.screen.served import Served, served

HARM = "<img src=x onerror=ran.push(1)>"
SCRIPT = "</script><script>ran.push(2)</script>{{ran.push(3)}}"
VIN = "<svg/onload=r()>."
VIN_FRAMES = ("101449020133305A", "2144454D4C323854", "2244303030303031")  # of the demo car (ISO 15765-2)
DRILL = f"""\
title = '{HARM}{SCRIPT}'

[[stop]]
capture = '{HARM}.log'
at_s = 24
kind = 'ready'
relearn = 'idle-air-volume'
wording = 'Ready? {HARM}'
note = 'Because {SCRIPT}'

[[stop]]
capture = '{HARM}.log'
at_s = 50
kind = 'settle'
"""


def with_vin(log: str) -> str:
    """The recording of a car that says VIN."""
    said = VIN.encode("ascii")
    parts = (f"1014490201{said[:3].hex()}", f"21{said[3:10].hex()}", f"22{said[10:].hex()}")
    for old, new in zip(VIN_FRAMES, parts, strict=True):
        log = log.replace(old, new.upper())
    return log


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("class") / "shown"
    (made / "<").mkdir(parents=True)
    hostile = made / f"{HARM}.log"
    hostile.write_text(with_vin((CAPTURES / "stall.log").read_text(encoding="ascii")), encoding="ascii")
    assert VIN in {value for one in read(hostile).identity for value in one.values}
    (made / "<" / "script>ran.push(4).log").write_text("no capture\n", encoding="ascii")
    (made / "drill.toml").write_text(DRILL, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Served]:
    with served(cwd=folder) as one:  # nothing is named: the folder one is in
        yield one


@pytest.fixture
def page(browser: Browser, server: Served) -> Iterator[Page]:
    """Somebody's page; at the end no script of anybody else has run in it."""
    one = opened(browser, server.url, "window.ran = []; window.r = () => ran.push(5)")
    yield one
    assert one.evaluate("ran") == []
    assert one.locator("img[src=x]").or_(one.locator("svg[onload]")).count() == 0
    one.context.close()


def chosen(page: Page, name: str) -> None:
    page.get_by_role("button", name=name).click()


def answered(page: Page, text: str) -> None:
    button(page, "Ask now").click()
    page.get_by_label(text, exact=True).check()
    button(page, "Answer").click()


def test_a_drill_from_its_start_to_its_score(page: Page, tmp_path: Path) -> None:
    chosen(page, "drill.toml")
    expect(page.get_by_role("heading", name=HARM + SCRIPT)).to_be_visible()
    page.get_by_label("your name").fill(HARM)
    button(page, "Begin").click()
    expect(page.get_by_text(HARM + SCRIPT)).to_be_visible()
    button(page, "Ask now").click()
    expect(page.get_by_role("heading", name=f"Ready? {HARM}")).to_be_visible()
    assert "stall" not in page.locator(".side").inner_text()  # no hint
    button(page, "Answer").click()
    expect(page.get_by_text("Choose an answer first.")).to_be_visible()
    page.get_by_label("yes", exact=True).check()
    button(page, "Answer").click()
    expect(page.get_by_text("Right", exact=True)).to_be_visible()
    expect(page.get_by_text(f"Because {SCRIPT}")).to_be_visible()
    expect(page.locator(".look-at")).not_to_have_count(0)  # what held, each with its chart
    expect(page.locator(".look-at").filter(has_text="Coolant, 0:")).to_be_visible()
    expect(page.get_by_text("recording: ")).to_have_count(0)  # more is asked about it
    button(page, "Next").click()
    answered(page, "yes")
    expect(page.get_by_text("Not right", exact=True)).to_be_visible()
    expect(page.get_by_text(f"recording: {HARM}.log")).to_be_visible()
    expect(page.locator(".look-at").first).to_contain_text("Engine speed, 0:")
    button(page, "Next").click()
    expect(page.get_by_text(HARM, exact=True)).to_be_visible()
    expect(page.get_by_text("1 of 2 points", exact=True)).to_be_visible()
    page.goto(page.url.partition("/drill")[0] + "/results")
    expect(page.get_by_role("cell", name=HARM)).to_be_visible()
    with page.expect_download() as waiting:
        button(page, "Save as CSV").click()
    waiting.value.save_as(tmp_path / "results.csv")
    with (tmp_path / "results.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    wanted = ("person", "drill", "recording", "stopped at (s)", "kind of question", "answered", "right by the data")
    assert [tuple(one[name] for name in (*wanted, "points (of 1)")) for one in rows] == [
        (HARM, HARM + SCRIPT, f"{HARM}.log", "24", "Is it ready?", "yes", "yes", "1"),
        (HARM, HARM + SCRIPT, f"{HARM}.log", "50", "Did it settle?", "yes", "no", "0"),
    ]


def test_a_page_loaded_again_goes_on_where_it_was_and_nothing_is_answered_twice(page: Page) -> None:
    chosen(page, "drill.toml")
    page.get_by_label("your name").fill("Bea")
    button(page, "Begin").click()
    button(page, "Ask now").click()
    expect(button(page, "Answer")).to_be_visible()
    page.reload()
    page.get_by_label("no", exact=True).check()
    button(page, "Answer").click()
    expect(page.get_by_text("Not right", exact=True)).to_be_visible()
    page.reload()
    expect(page.get_by_text("Not right", exact=True)).to_be_visible()
    expect(page.locator(".look-at[aria-pressed=true]")).to_have_count(1)
    expect(button(page, "Answer")).to_have_count(0)
    button(page, "Next").click()
    answered(page, "no")
    button(page, "Next").click()
    page.reload()
    expect(page.get_by_text("1 of 2 points", exact=True)).to_be_visible()
    button(page, "Next person").click()
    expect(page.get_by_label("your name")).to_be_visible()
    page.goto(page.url.partition("/drill")[0] + "/results")
    expect(page.get_by_role("row", name="Bea 0 of 1 1 of 1 1 of 2 0")).to_be_visible()


def test_until_it_is_answered_a_browser_is_told_no_hint(browser: Browser, page: Page) -> None:
    """Neither the page nor what comes over its socket names the recording, the sheet, or what is right."""
    one = opened(browser, page.url)
    came: list[str] = []
    one.on("websocket", lambda socket: socket.on("framereceived", lambda data: came.append(str(data))))
    chosen(one, "drill.toml")
    button(one, "Begin").click()
    button(one, "Ask now").click()
    expect(button(one, "Answer")).to_be_visible()
    told = f"{one.title()} {one.content()} {' '.join(came)}"
    assert "Ready?" in told  # it is the page that was looked at
    assert [
        word for word in (f"{HARM}.log", ".log", "demo", "generic", "held", "Because", "0:24.0–") if word in told
    ] == []
    expect(one.locator(".legend:visible")).to_have_count(0)
    button(one, "Answer").wait_for()
    one.get_by_label("yes", exact=True).check()
    button(one, "Answer").click()
    expect(one.get_by_text(f"Because {SCRIPT}")).to_be_visible()
    assert "Because" in " ".join(came)  # what is told comes that way
    one.context.close()


@pytest.mark.parametrize("number", ["99", "-1", "0", "abc", "9" * 5000, "%F0%9F%9A%97", "1.0"])
def test_a_drill_that_is_not_there(server: Served, number: str) -> None:
    """0 is the hostile capture."""
    answer = asked(HERE, server.port, f"/drill/{number}")
    assert (answer.status, "There is no such drill here." in answer.text) == (404, True)


def test_a_hostile_capture_is_shown_as_text(page: Page) -> None:
    chosen(page, f"{HARM}.log")
    expect(page.locator(".top .what")).to_have_text(f"{HARM}.log")
    expect(verdict(page, "Ready?")).to_be_visible()
    strips(page).wait_for()
    button(page, "Choose another").click()
    expect(page.get_by_role("button", name="drill.toml")).to_be_visible()


def test_what_cannot_be_used_is_said(page: Page) -> None:
    chosen(page, "</script>ran.push(4).log")
    expect(page.get_by_role("alert")).to_contain_text("script>ran.push(4).log")


def test_a_scenario_plays_and_the_trainer_unplugs_a_sensor_of_it(page: Page) -> None:
    chosen(page, "demo-after")
    expect(said(page, "coolant-warm")).to_have_text(begins("yes"))
    expect(page.locator(".top .kind")).to_have_text("scenario")
    moves_on(page)
    page.get_by_text("Take over").click()
    page.locator("[data-fault]").first.wait_for()
    names = page.locator("[data-fault]").evaluate_all("all => all.map(one => one.dataset.fault)")
    page.locator(f'[data-fault="{next(name for name in names if "coolant" in name)}"]').click()
    expect(said(page, "coolant-warm")).to_have_text(begins("cannot tell"))
    button(page, "Choose another").click()
