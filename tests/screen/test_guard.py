"""What comes past the guard, asked with raw requests: pages, the framework's own files, and the socket alike."""

from __future__ import annotations

import re
from collections.abc import Iterator

import nicegui
import pytest

from relearn.screen.guard import COOKIE, Guests
from tests.cli.run import CAPTURES
from tests.screen.raw import HERE, POLLING, SOCKET, UPGRADE, asked, own_address
from tests.screen.served import Served, served

VERSION = nicegui.__version__
FILES = f"/_nicegui/{VERSION}"
PATHS = {
    "page": "/",
    "drill": "/drill/0",
    "results": "/results",
    "unknown": "/nothing-of-this-name",
    "static": f"{FILES}/static/nicegui.js",
    "component": f"{FILES}/components/strips.js",
    "polling": POLLING,
    "socket": SOCKET,
}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("guard")
    (folder / "shown").mkdir()
    (folder / "outside.log").write_text("a secret\n", encoding="utf-8")
    (folder / "shown" / "stall.log").write_bytes((CAPTURES / "stall.log").read_bytes())
    (folder / "shown" / "link.log").symlink_to(folder / "outside.log")
    with served(folder / "shown", cwd=folder) as one:
        yield one


def headers(name: str, more: dict[str, str]) -> dict[str, str]:
    return {**(UPGRADE if name == "socket" else {}), **more}


def test_the_framework_has_no_other_way_in() -> None:
    """Every route of the framework lies below one of these, and all of them are asked for here."""
    paths = {route.path for route in nicegui.app.routes}
    assert {path.split("/")[1] for path in paths} <= {"_nicegui", "_nicegui_ws", "favicon.ico"}


@pytest.mark.parametrize("name", PATHS)
def test_our_own_page_comes_in(name: str, server: Served) -> None:
    origin = {"Origin": f"http://{HERE}:{server.port}"} if name in ("polling", "socket") else {}
    status = asked(HERE, server.port, PATHS[name], headers(name, origin)).status
    assert status == {"socket": 101, "drill": 404, "unknown": 404, "component": 404}.get(name, 200)


@pytest.mark.parametrize("name", PATHS)
@pytest.mark.parametrize(
    "foreign",
    [
        {"Host": "example.org"},  # a name that somebody made to point to this machine
        {"Host": "example.org:{port}"},
        {"Host": "127.0.0.1"},  # another port's page
        {"Host": "127.0.0.1:{port}.example.org"},
        {"Host": "127.0.0.1.:{port}"},
        {"Host": ""},
        {"Origin": "http://example.org"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://127.0.0.1:{port}.example.org"},
        {"Origin": "https://example.org:{port}"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"},
        {"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"},
    ],
    ids=lambda foreign: " ".join(foreign.values()) or "no host",
)
def test_nothing_answers_to_another_name_or_origin(name: str, foreign: dict[str, str], server: Served) -> None:
    given = {header: value.format(port=server.port) for header, value in foreign.items()}
    assert asked(HERE, server.port, PATHS[name], headers(name, given)).status == 403


def test_a_link_from_elsewhere_may_be_followed(server: Served) -> None:
    followed = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert asked(HERE, server.port, "/", followed).status == 200


def test_nobody_says_for_himself_that_he_is_elsewhere_or_here(server: Served) -> None:
    assert asked(HERE, server.port, "/results", {"X-Forwarded-For": "192.0.2.9"}).status == 200


def test_the_page_may_not_be_put_into_another(server: Served) -> None:
    policy = asked(HERE, server.port, "/").headers["content-security-policy"]
    assert {"frame-ancestors 'none'", "form-action 'none'"} <= {part.strip() for part in policy.split(";")}


def test_only_this_machine_reaches_it(server: Served) -> None:
    with pytest.raises(ConnectionRefusedError):
        asked(own_address(), server.port, "/")


@pytest.mark.parametrize(
    "path",
    [
        "/outside.log",
        "/../outside.log",
        "/stall.log",
        "/link.log",
        "/drill/../../outside.log",
        "/drill/-1",
        "/drill/0",  # a capture, no drill
        "/drill/99999",
        "/drill/%2e%2e%2foutside.log",
        f"{FILES}/static/../../../../outside.log",
        f"{FILES}/static/%2e%2e/%2e%2e/outside.log",
        f"{FILES}/components/app.py",
        "/_nicegui/auto/static/outside.log",
        "/docs",
        "/openapi.json",
    ],
)
def test_no_path_leads_to_a_file(path: str, server: Served) -> None:
    answer = asked(HERE, server.port, path)
    for inside in ("a secret", "7E8#", "from __future__", "openapi"):
        assert inside not in answer.text
    assert answer.status in (403, 404, 422) or "There is no such drill here." in answer.text


def test_a_link_lets_in_once() -> None:
    guests = Guests()
    token = guests.link()
    assert guests.enter("") is None
    assert guests.enter(token[:-1]) is None
    cookie = guests.enter(token)
    assert cookie is not None
    assert guests.knows(cookie)
    assert guests.enter(token) is None
    assert not guests.knows(token)
    assert not guests.knows("")
    assert COOKIE.isidentifier()


def test_our_scripts_are_served_and_nothing_beside_them(server: Served) -> None:
    page = asked(HERE, server.port, "/drill/0").text
    folders = re.findall(rf'"relearn-[a-z]+": ?"({re.escape(FILES)}/esm/[^/"]+/)([^/"]+)"', page)
    assert folders
    for folder, script in folders:
        assert asked(HERE, server.port, folder + script).status == 200
        for beside in ("../look.css", "%2e%2e/look.css", "../app.py", "..", "%2e%2e%2fapp.py"):
            assert asked(HERE, server.port, folder + beside).status in (403, 404)
