"""Who may come in: only pages of our own address, and from other machines only with a cookie that a link gave once.

A browser runs scripts of any site that is open in it, and all of them can reach the loopback address. So each request
must name our own host (else another name may have been made to point here) and come from our own page where it says
from where it comes.
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import urlsplit

Scope = MutableMapping[str, Any]
App = Callable[[Scope, Any, Any], Awaitable[None]]
COOKIE = "relearn_guest"
ENTER = "/enter/"
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
HTTP_PORT = 80  # the one that a browser leaves out
ELSEWHERE = ("cross-site", "same-site")  # Fetch Metadata: another site, and another port of this one
NOT_OURS = "This page answers only to its own address."
NO_LINK = "Ask for a link: this page is open to invited browsers only."
USED = "This link was used already or is not one of ours. Ask for a new one."
KEPT_IN = (
    # the framework's own page needs inline scripts and eval; nothing may be loaded from or sent to anywhere else
    b"default-src 'self' 'unsafe-inline' 'unsafe-eval' data: blob:; "
    b"base-uri 'self'; form-action 'none'; frame-ancestors 'none'"
)
HEADERS = ((b"content-security-policy", KEPT_IN), (b"referrer-policy", b"no-referrer"))


class Guests:
    """The links that let in once each, and the cookies of those who came by them."""

    def __init__(self) -> None:
        self._links: set[str] = set()
        self._inside: set[str] = set()

    def link(self) -> str:
        """A new link's token."""
        token = secrets.token_urlsafe(24)
        self._links.add(token)
        return token

    def enter(self, token: str) -> str | None:
        """The cookie for whoever comes by this link; None where it was used already or never given."""
        if token not in self._links:
            return None
        self._links.discard(token)
        cookie = secrets.token_urlsafe(24)
        self._inside.add(cookie)
        return cookie

    def knows(self, cookie: str) -> bool:
        """Whether this cookie was given here."""
        return cookie in self._inside


class Guard:
    """In front of the page, for plain and for socket requests alike. hosts: the names this page is served under."""

    def __init__(self, app: App, hosts: frozenset[str], port: int, guests: Guests) -> None:
        self._app, self._hosts, self._port, self._guests = app, hosts, port, guests

    async def __call__(self, scope: Scope, receive: Any, send: Any) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        if not self._ours(headers):
            await _refuse(scope, receive, send, NOT_OURS)
        elif _is_link(scope):
            await self._enter(scope, receive, send)
        elif at_home(scope) or self._guests.knows(_cookie(headers)):
            await self._app(scope, receive, _kept_in(send))
        else:
            await _refuse(scope, receive, send, NO_LINK)

    def _ours(self, headers: Mapping[str, str]) -> bool:
        host, origin = headers.get("host", ""), headers.get("origin")
        return self._mine(f"//{host}") and (origin is None or self._mine(origin)) and not _embedded(headers)

    def _mine(self, address: str) -> bool:
        try:
            parts = urlsplit(address)
            return parts.hostname in self._hosts and (parts.port or HTTP_PORT) == self._port
        except ValueError:
            return False

    async def _enter(self, scope: Scope, receive: Any, send: Any) -> None:
        cookie = self._guests.enter(str(scope["path"]).removeprefix(ENTER))
        if cookie is None:
            await _refuse(scope, receive, send, USED)
            return
        # Lax and not Strict: whoever follows a link from a mail must bring the cookie along to the page it leads to
        given = f"{COOKIE}={cookie}; HttpOnly; SameSite=Lax; Path=/"
        headers = [(b"location", b"/"), (b"set-cookie", given.encode("latin-1")), (b"cache-control", b"no-store")]
        await send({"type": "http.response.start", "status": 303, "headers": headers})
        await send({"type": "http.response.body", "body": b""})


def at_home(scope: Scope) -> bool:
    """Whether a request comes from this machine itself."""
    client = scope.get("client")
    return client is not None and client[0] in LOOPBACK


def _is_link(scope: Scope) -> bool:
    """Only GET uses a link up: programs that look ahead for a mail or a chat often ask by HEAD."""
    return scope["type"] == "http" and scope["method"] == "GET" and str(scope["path"]).startswith(ENTER)


def _embedded(headers: Mapping[str, str]) -> bool:
    """Whether another page loads this as a part of its own. Following a link here is no such thing."""
    followed = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
    return headers.get("sec-fetch-site") in ELSEWHERE and not followed


def _kept_in(send: Any) -> Any:
    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", ()), *HEADERS]
        await send(message)

    return sent


def _cookie(headers: Mapping[str, str]) -> str:
    try:
        jar = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return jar[COOKIE].value if COOKIE in jar else ""


async def _refuse(scope: Scope, receive: Any, send: Any, why: str) -> None:
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008})
        return
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": 403, "headers": headers})
    await send({"type": "http.response.body", "body": why.encode()})
