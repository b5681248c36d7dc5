"""The workspace in a browser: served at this machine alone unless told otherwise."""

import asyncio
import json
import os
import re
import socket
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from racecalc.views.desk import server_of

serve = pytest.importorskip("textual_serve.server")
aiohttp = pytest.importorskip("aiohttp")

PATIENCE = 60.0


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


async def seen_in_a_browser(address: str, words: bytes) -> None:
    """Connect as the page does, and wait until the program has drawn some words; others may not."""
    deadline = time.monotonic() + PATIENCE
    port = urlsplit(address).port
    url = f"http://localhost:{port}/ws?width=100&height=30"
    async with aiohttp.ClientSession() as session:
        while True:
            try:
                bare = await session.get(address.partition("?")[0])
                break
            except aiohttp.ClientError:
                assert time.monotonic() < deadline
                await asyncio.sleep(0.1)
        assert bare.status == (await session.get(f"{address}x")).status == 403
        rebound = await session.get(address, headers={"Host": "rebound.example"})
        assert rebound.status == 403
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await session.ws_connect(url)
        assert (await session.get(address)).status == 200
        connection = await session.ws_connect(url)
        seen = b""
        while words not in seen:
            assert time.monotonic() < deadline, seen[-500:]
            message = await connection.receive(timeout=PATIENCE)
            seen += message.data if isinstance(message.data, bytes) else b""
        for headers in (
            {"Origin": "https://elsewhere.example"},
            {"Host": "rebound.example", "Origin": "http://rebound.example"},
        ):
            with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
                await session.ws_connect(url, headers=headers)
        own = {"Origin": f"http://localhost:{port}"}
        await (await session.ws_connect(url, headers=own)).close()
        await connection.send_str(json.dumps(["stdin", "\x11"]))
        await connection.close()


def test_the_program_is_seen_through_the_server(small_race: Path) -> None:
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "racecalc", str(small_race), "--serve", "--port", str(port)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
        text=True,
    )
    try:
        address = server.stdout.readline().strip()
        assert address.startswith(f"http://localhost:{port}/?key=")
        asyncio.run(seen_in_a_browser(address, b"16:48"))
        taken = [sys.executable, "-m", "racecalc", "open", "--serve", "--port", str(port)]
        second = subprocess.run(
            taken, check=False, capture_output=True, text=True, timeout=PATIENCE
        )
        assert second.returncode == 2
        assert "name another with --host or --port" in second.stderr.splitlines()[-1]
    finally:
        server.terminate()
        server.communicate(timeout=PATIENCE)


def test_the_page_has_a_title_and_asks_nothing_of_another_host(capsys) -> None:
    from aiohttp.test_utils import TestClient, TestServer

    async def fetched() -> tuple[str, dict[str, int]]:
        server = server_of("true", "localhost", 8000, "canal.toml - racecalc")
        async with TestClient(TestServer(await server._make_app())) as client:
            address = capsys.readouterr().out.strip().removeprefix("http://localhost:8000")
            page = await (await client.get(address)).text()
            asked = re.findall(r"(?:src|href)=\"([^\"]+)|url\(\"([^\"]+)", page)
            paths = [one or other for one, other in asked if not (one or "").startswith("data:")]
            bare = [path.removeprefix("http://localhost:8000") for path in paths]
            return page, {path: (await client.get(path)).status for path in bare}

    page, statuses = asyncio.run(fetched())
    assert "<title>canal.toml - racecalc</title>" in page
    assert set(re.findall(r"//([^/\"]+)", page)) <= {"localhost:8000"}
    assert len(statuses) == 3
    # Each is there, on this server: another host would be a path that is none.
    assert set(statuses.values()) == {200}, statuses


@pytest.mark.parametrize(
    ("flags", "host", "warned"),
    [
        ((), "localhost", False),
        (("--host", "127.0.0.1"), "127.0.0.1", False),
        (("--host", "::1"), "::1", False),
        (("--host", "0.0.0.0"), "0.0.0.0", True),  # noqa: S104
        (("--host", "example.org"), "example.org", True),
    ],
)
def test_loopback_unless_told_otherwise(
    small_race: Path, racecalc, monkeypatch, flags: tuple[str, ...], host: str, warned: bool
) -> None:
    served: list[tuple[str, str]] = []

    class Server:
        def __init__(self, command: str, host: str, port: int, title: str, **_: Path) -> None:
            served.append((command, host))

        def serve(self) -> None:
            """Nothing is served here."""

    monkeypatch.setattr(serve, "Server", Server)
    status, _, err = racecalc(small_race, "--serve", *flags)
    assert status == 0
    ((command, at),) = served
    assert at == host
    assert str(small_race) in command
    assert ("from every machine" in err) == warned


def test_serving_without_its_library_says_how_to_get_it(
    small_race: Path, racecalc, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "textual_serve.server", None)
    status, _, err = racecalc("open", small_race, "--serve")
    assert status == 2
    assert "racecalc[serve]" in err
