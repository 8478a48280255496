"""The server: its doors are bound before anything is promised; it says when it can be reached and ends when asked."""

from __future__ import annotations

import asyncio
import errno
from collections.abc import Callable, Sequence
from typing import Any

import uvicorn
from fastapi import FastAPI
from nicegui import ui

from relearn.errors import ChoiceError
from relearn.screen.guard import LOOPBACK, Guard, Guests

CLOSE_S = 2  # how long open connections may take to end


class Server(uvicorn.Server):
    """uvicorn's, which tells when it is ready and also asks whether it is over."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None], over: Callable[[], bool]) -> None:
        super().__init__(config)
        self._ready, self._over = ready, over

    async def startup(self, sockets: Any = None) -> None:
        await super().startup(sockets)
        self._ready()

    async def on_tick(self, counter: int) -> bool:
        return self._over() or await super().on_tick(counter)


def serve(
    hosts: Sequence[str], port: int, guests: Guests, ready: Callable[[int], None], over: Callable[[], bool]
) -> None:
    """Serve the pages there are, on each of these addresses, until it is over.

    port: 0 takes a free one. ready: is told the port once it can be reached. ChoiceError: a door is taken or is not
    this machine's.
    """
    asyncio.run(_serve(hosts, port, guests, ready, over))


async def _serve(
    hosts: Sequence[str], port: int, guests: Guests, ready: Callable[[int], None], over: Callable[[], bool]
) -> None:
    doors: list[asyncio.Server] = []
    try:
        for host in hosts:
            doors.append(await _door(host, port))
            port = doors[0].sockets[0].getsockname()[1]
        sockets = [door.sockets[0].dup() for door in doors]
    finally:
        for door in doors:
            door.close()
    page = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    page.add_middleware(Guard, hosts=frozenset({*LOOPBACK, *hosts}), port=port, guests=guests)
    ui.run_with(page, title="relearn", dark=None, tailwind=False, show_welcome_message=False)
    config = uvicorn.Config(
        page,
        log_config=None,
        access_log=False,
        proxy_headers=False,  # nobody may say for himself that he comes from this machine
        timeout_graceful_shutdown=CLOSE_S,
        ws="wsproto",  # as the framework's own start has it
        ws_per_message_deflate=False,  # packed rows do not get smaller; packing an hour of them takes seconds
    )
    await Server(config, lambda: ready(port), over).serve(sockets=sockets)


async def _door(host: str, port: int) -> asyncio.Server:
    """An address and port that are ours from now on."""
    loop = asyncio.get_running_loop()
    try:
        return await loop.create_server(asyncio.Protocol, host, port, start_serving=False)
    except OSError as wrong:
        raise _not_ours(host, port, wrong) from wrong


def _not_ours(host: str, port: int, wrong: OSError) -> ChoiceError:
    if wrong.errno == errno.EADDRINUSE:
        return ChoiceError(
            f"port {port} of {host} is taken, perhaps by a page of relearn that is still open",
            remedy="end that one, or choose another with --port (0 takes a free one)",
        )
    return ChoiceError(
        f"the page cannot be served on {host}, port {port} ({wrong.strerror or wrong})",
        remedy="give an address of this machine and a port that you may use",
    )
