"""--share: who has no link sees nothing, a link lets one browser in, and who comes by one only looks on."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.cli.run import CAPTURES
from tests.screen.browser import button, chromium, clock, go_to, opened, question, strips, verdict
from tests.screen.raw import POLLING, SOCKET, UPGRADE, asked, own_address
from tests.screen.served import Served, served

LINKS = 5


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as one:
        yield one


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    words = (CAPTURES / "stall.log", "--share", own_address(), "--links", LINKS)
    with served(*words, cwd=tmp_path_factory.mktemp("share"), links=LINKS) as one:
        yield one


@pytest.fixture(scope="module")
def links(server: Served) -> Iterator[str]:
    """A link that nobody has used yet, each time one is taken."""
    return iter(server.links)


@pytest.fixture(scope="module")
def trainer(browser: Browser, server: Served) -> Iterator[Page]:
    """Whoever started it, on this machine."""
    page = opened(browser, server.url)
    yield page
    page.context.close()


@pytest.fixture(scope="module")
def guest(browser: Browser, links: Iterator[str]) -> Iterator[Page]:
    page = opened(browser, next(links))
    yield page
    page.context.close()


def test_it_says_what_a_link_means(server: Served) -> None:
    assert "Each link lets one browser in, once. It travels unencrypted" in "".join(server.said)


@pytest.mark.parametrize("path", ["/", "/drill/0", "/results", "/enter/", "/enter/x", "/favicon.ico", POLLING, SOCKET])
@pytest.mark.parametrize(
    "cookie", ["", "relearn_guest=", "relearn_guest=x", "relearn_guest=%s", "=;, relearn_guest; a"]
)
def test_nothing_answers_without_a_link(path: str, cookie: str, server: Served) -> None:
    token = server.links[-1].rpartition("/")[2]  # a link is no cookie
    headers = {**(UPGRADE if path == SOCKET else {}), **({"Cookie": cookie.replace("%s", token)} if cookie else {})}
    assert asked(own_address(), server.port, path, headers).status == 403


def test_a_link_lets_in_once_and_only_when_it_is_followed(server: Served, links: Iterator[str]) -> None:
    link = next(links)
    path = link[link.index("/enter/") :]
    assert asked(own_address(), server.port, path, {"Origin": "http://example.org"}).status == 403
    assert asked(own_address(), server.port, path, method="HEAD").status == 403
    let_in = asked(own_address(), server.port, path)
    assert (let_in.status, let_in.headers["location"]) == (303, "/")
    assert {"HttpOnly", "SameSite=Lax"} <= set(let_in.headers["set-cookie"].split("; "))
    cookie = {"Cookie": let_in.headers["set-cookie"].partition(";")[0]}
    assert asked(own_address(), server.port, "/", cookie).status == 200
    assert asked(own_address(), server.port, SOCKET, {**UPGRADE, **cookie}).status == 101
    again = asked(own_address(), server.port, path)
    assert (again.status, "was used already" in again.text) == (403, True)


def test_a_guest_who_follows_a_link_from_a_mail_comes_in(browser: Browser, links: Iterator[str]) -> None:
    page = opened(browser, "about:blank")
    page.set_content(f'<a href="{next(links)}">the class</a>')
    page.get_by_text("the class").click()
    expect(verdict(page, "Ready?")).to_be_visible()
    page.context.close()


def test_a_guest_sees_the_same_and_has_nothing_to_play_with(guest: Page, trainer: Page) -> None:
    strips(trainer).wait_for()
    go_to(trainer, 59.9)
    for page in (guest, trainer):
        expect(clock(page)).to_have_text("0:59.9")
        expect(verdict(page, "Ready?")).to_have_text("no")
        strips(page).wait_for()
    expect(guest.locator(".top .what")).to_have_text("a recording")  # a file's name may say what is to be found in it
    assert "stall.log" not in guest.locator("body").inner_text()
    expect(trainer.locator(".top .what")).to_have_text("stall.log")
    for hidden in ("Play", "Pause", "Choose another"):
        assert not button(guest, hidden).count()
    for label in ("speed", "moment", "relearn"):
        assert trainer.get_by_label(label, exact=True).count() == 1
        assert not guest.get_by_label(label, exact=True).count()


def test_the_results_are_not_for_guests(guest: Page) -> None:
    with guest.context.expect_page() as waiting:
        guest.evaluate("window.open('/results')")
    results = waiting.value
    expect(results.get_by_text("The results are with whoever started this page.")).to_be_visible()
    assert not button(results, "Save as CSV").count()


def test_a_guest_who_says_by_hand_what_the_trainer_says_moves_nothing(
    browser: Browser, guest: Page, server: Served
) -> None:
    """What the trainer's browser sends for Play is sent again by the guest's: word for word but for the one part that
    a guest cannot know, the name of the trainer's page; and to every element that his own page may have."""
    page, sent = browser.new_context().new_page(), list[str]()
    page.on("websocket", lambda socket: socket.on("framesent", lambda data: sent.append(str(data))))
    page.goto(server.url)
    strips(page).wait_for()
    go_to(page, 59.9)
    expect(button(page, "Play")).to_be_visible()
    sent.clear()
    button(page, "Play").click()
    expect(button(page, "Pause")).to_be_visible()
    said = [json.loads(one[one.index("[") :])[1] for one in sent if '["event"' in one]
    go_to(page, 59.9)
    expect(button(page, "Play")).to_be_visible()
    assert said
    own = guest.evaluate("window.socket.io.opts.query.client_id")
    assert own not in {one["client_id"] for one in said}
    for one in said:
        for client in (own, "", "00000000-0000-4000-8000-000000000000"):
            emit(guest, {**one, "client_id": client})
        for number in range(200):
            emit(guest, {**one, "client_id": own, "id": number})
    question(guest, "Settled?").locator(".head").click()  # answered after all of that
    expect(question(guest, "Settled?").locator("[data-row]").first).to_be_visible()
    expect(clock(page)).to_have_text("0:59.9")
    expect(button(page, "Play")).to_be_visible()
    for one in said:
        emit(page, one)
    expect(button(page, "Pause")).to_be_visible()  # said by the trainer's own page, the same does play
    page.context.close()


def emit(page: Page, event: object) -> None:
    page.evaluate("event => { window.socket.emit('event', event); }", event)
