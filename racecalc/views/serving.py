"""The terminal interface served to a browser, and to no page but its own."""

from typing import Any
from urllib.parse import urlsplit

OWN_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})
EVERYWHERE = frozenset({"0.0.0.0", "::"})  # noqa: S104 - recognised, not bound to


def server_of(command: str, host: str, port: int) -> Any:
    """A server whose pages run a command, one process a visitor.

    Any page of the web may ask a browser to connect to this machine, so a connection is taken
    only from a page that this server gave out, under a name that it goes by.

    Parameters
    ----------
    command : str
        What runs.
    host, port : str and int
        Where it listens.

    Returns
    -------
    Server
        Its `serve` runs until it is interrupted.

    Raises
    ------
    ImportError
        If textual-serve is not installed.
    """
    from aiohttp import web
    from textual_serve.server import Server

    class OwnPages(Server):
        async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
            origin = request.headers.get("Origin")
            if not _is_own(request.host, host) or (origin and _netloc(origin) != request.host):
                raise web.HTTPForbidden(text="connections are taken from own pages alone")
            return await super().handle_websocket(request)

    return OwnPages(command, host=host, port=port, title="racecalc")


def _netloc(origin: str) -> str:
    return urlsplit(origin).netloc


def _is_own(asked: str, host: str) -> bool:
    name = urlsplit(f"//{asked}").hostname
    return host in EVERYWHERE or name in OWN_HOSTS | {host}
