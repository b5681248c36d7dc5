"""Where commands read and write if not the terminal: a screen, a browser, with progress."""

import os
import secrets
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import urlsplit

import click

from racecalc.errors import RacecalcError, cancelled_when, check_cancelled, parts_of
from racecalc.quantities.plain_text import json_text
from racecalc.views.width import for_errors

if TYPE_CHECKING:
    from racecalc.answers.sheet import Sheet
    from racecalc.domain.race import Race


# --- Where commands read races from and where their answers go, if not the terminal itself -------


@dataclass(frozen=True)
class Desk:
    """What is in place of the terminal while work goes on inside a screen."""

    progress: Callable[[str, int, int], None]
    """Takes what is being done, how many parts are, and how many there are."""
    read_race: "Callable[[Path, Iterable[str]], Race] | None" = None
    """Gives the race of a file with changes, unsaved edits included."""
    answers: "list[tuple[Any, Sheet]]" = field(default_factory=list)
    """Those given, each with the sheet that would go to standard output."""
    notices: list[str] = field(default_factory=list)
    """Lines that would go to standard error."""


_DESK: ContextVar[Desk | None] = ContextVar("desk", default=None)


@contextmanager
def at_desk(desk: Desk) -> Iterator[None]:
    """Let the commands run inside use this desk; for the thread that works."""
    token = _DESK.set(desk)
    try:
        yield
    finally:
        _DESK.reset(token)


def current_desk() -> Desk | None:
    """The desk in use; None for the terminal."""
    return _DESK.get()


def note(text: str) -> None:
    """Print a line next to the answer, on standard error."""
    desk = current_desk()
    if desk:
        desk.notices.append(text)
    else:
        _erase_counter()
        _told(for_errors(text))


def _told(text: str, *, nl: bool = True) -> None:
    # Where nobody can be told, the work goes on.
    with suppress(OSError):
        click.echo(text, err=True, nl=nl)


def tell_error(error: RacecalcError) -> None:
    """Say what is wrong, as JSON where the answer is wanted so."""
    if "--json" in sys.argv and not current_desk():
        _told(json_text({"errors": [parts_of(error)]}))
    else:
        note(f"error: {error}")


def has_screen() -> bool:
    """Whether a screen can be drawn and typed at: a terminal, or a page of a browser."""
    # The server of --serve names its driver, which needs no terminal.
    if os.environ.get("TEXTUAL_DRIVER"):
        return True
    dumb = os.environ.get("TERM", "dumb" if os.name == "posix" else "") in ("dumb", "unknown")
    both = (sys.stdin, sys.stdout)
    return not dumb and all(one and not one.closed and one.isatty() for one in both)


# --- Progress, which appears only where work takes over a second ---------------------------------

Item = TypeVar("Item")
PATIENCE = 1.0


@dataclass
class _Counter:
    """A line on standard error that counts the seconds of work while no bar says how far it is."""

    began: float = field(default_factory=time.monotonic)
    written: float = 0.0
    """When it was last; 0 where it is not on the screen."""
    hidden: bool = False

    def working(self) -> bool:
        """Show the seconds; the work is still wanted."""
        now = time.monotonic()
        if not self.hidden and now - max(self.began + PATIENCE, self.written) > 0.1:
            _told(f"\rworking, {now - self.began:.0f} s", nl=False)
            self.written = now
        return False

    def erase(self, *, hidden: bool = False) -> None:
        """Take the line away; it stays away where it is to be hidden."""
        if self.written:
            _told(f"\r{' ' * 30}\r", nl=False)
        self.written, self.hidden = 0.0, hidden


_COUNTER: ContextVar[_Counter | None] = ContextVar("counter", default=None)


def _erase_counter(*, hidden: bool = False) -> None:
    if counter := _COUNTER.get():
        counter.erase(hidden=hidden)


@contextmanager
def showing_work() -> Iterator[None]:
    """Show on a terminal that work goes on, with the answer or with reading a file for it."""
    if current_desk() or not sys.stderr.isatty():
        yield
        return
    counter = _Counter()
    token = _COUNTER.set(counter)
    try:
        with cancelled_when(counter.working):
            yield
    finally:
        counter.erase()
        _COUNTER.reset(token)


def tracked(items: Sequence[Item], label: str) -> Iterator[Item]:
    """Yield the items; after a second of work show on standard error, or desk, how far it is."""
    desk = current_desk()
    if desk:
        yield from _reported(items, label, desk)
        return
    began = time.monotonic()
    rest = iter(items)
    for done, item in enumerate(rest):
        if time.monotonic() - began > PATIENCE and sys.stderr.isatty():
            _erase_counter(hidden=True)
            with click.progressbar(
                length=len(items), label=label, file=sys.stderr, show_pos=True
            ) as bar:
                bar.update(done)
                for later in (item, *rest):
                    yield later
                    bar.update(1)
            _erase_counter()
            return
        yield item


def _reported(items: Sequence[Item], label: str, desk: Desk) -> Iterator[Item]:
    for done, item in enumerate(items):
        check_cancelled()
        desk.progress(label, done, len(items))
        yield item
    desk.progress(label, len(items), len(items))


# --- The terminal interface served to a browser, and to no page but its own ----------------------

OWN_HOSTS = frozenset({"localhost", "127.0.0.1", "::1"})
EVERYWHERE = frozenset({"0.0.0.0", "::"})  # noqa: S104 - recognised, not bound to


def server_of(command: str, host: str, port: int, title: str) -> Any:
    """A server whose pages run a command, one process a visitor.

    Any page of the web may ask a browser to connect to this machine, and any account of it reaches
    its ports. So whoever asks needs the key of the address that is printed, kept in a cookie, and
    asks from a page of this server, under a name that it goes by.
    """
    from aiohttp import web
    from textual_serve.server import Server

    key, cookie = secrets.token_urlsafe(16), f"racecalc_{port}"

    @web.middleware
    async def guard(request: web.Request, handler: Any) -> web.StreamResponse:
        origin = request.headers.get("Origin")
        from_here = not origin or urlsplit(origin).netloc == request.host
        shown = request.query.get("key") or request.cookies.get(cookie, "")
        if not (
            from_here
            and _is_own(request.host, host)
            and secrets.compare_digest(shown.encode(), key.encode())
        ):
            raise web.HTTPForbidden(text="open the whole address that racecalc printed")
        response: web.StreamResponse = await handler(request)
        if not response.prepared:
            response.set_cookie(cookie, key, httponly=True, samesite="Strict")
        return response

    class OwnPages(Server):
        async def _make_app(self) -> web.Application:
            app = await super()._make_app()
            app.middlewares.append(guard)
            return app

        async def on_startup(self, _: web.Application) -> None:
            click.echo(f"{self.public_url}/?key={key}")
            click.echo("Open this address in a browser; Ctrl+C ends it.", err=True)

    # A page of our own: that of the library asks another host for its letters.
    page = Path(__file__).parent / "writers" / "templates"
    return OwnPages(command, host=host, port=port, title=title, templates_path=page)


def _is_own(asked: str, host: str) -> bool:
    name = urlsplit(f"//{asked}").hostname
    return host in EVERYWHERE or name in OWN_HOSTS | {host}
