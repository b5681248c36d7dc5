"""A page printed by a browser that has no window, as far as one is available."""

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from racecalc.errors import InputError

BROWSER = "RACECALC_BROWSER"
"""Variable of the environment that names a browser to print with."""

KNOWN = ("chromium", "chromium-browser", "chrome")
"""What a browser that can print without a window is called on the path."""

FLAGS = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)

PATIENCE = 120.0
"""Seconds until a browser is given up."""

CREATOR = b"/Creator (racecalc)"

WRITTEN_CREATOR = re.compile(rb"/Creator \((?:[^()\\]|\\.)*\)", re.DOTALL)
"""What a PDF says made it: text in brackets, with a backslash before each bracket in it."""


def browser() -> str | None:
    """The browser to print with; None where none is found."""
    named = os.environ.get(BROWSER)
    return shutil.which(named) if named else next(filter(None, map(shutil.which, KNOWN)), None)


def needed_browser() -> str:
    """The browser to print with."""
    found, named = browser(), os.environ.get(BROWSER)
    if found is None and named:
        raise InputError(BROWSER, f"there is no program '{named}'", "name another browser")
    if found is None:
        raise InputError(
            "a .pdf page",
            "there is no browser here to print it with",
            f"install chromium, name another with {BROWSER}, or write .html and print that",
        )
    return found


def pdf_of(page: str) -> bytes:
    """Print a page."""
    found = needed_browser()
    with tempfile.TemporaryDirectory(prefix="racecalc-", ignore_cleanup_errors=True) as folder:
        source, target = Path(folder, "page.html"), Path(folder, "page.pdf")
        source.write_text(page, "utf-8")
        words = [found, *FLAGS, f"--user-data-dir={folder}/profile", *_as_root()]
        _run([*words, f"--print-to-pdf={target}", source.as_uri()])
        printed = target.read_bytes() if target.is_file() else b""
    if not printed.startswith(b"%PDF"):
        raise InputError("a .pdf page", f"'{found}' printed nothing", f"try another {BROWSER}")
    return made_here(printed)


def made_here(printed: bytes) -> bytes:
    r"""Name racecalc as what made a PDF, where a browser names itself; no byte moves.

    Examples
    --------
    >>> made_here(rb"<</Creator (Some browser \(1.0\))>>")
    b'<</Creator (racecalc)            >>'
    """

    def named(found: re.Match[bytes]) -> bytes:
        return CREATOR.ljust(len(found[0])) if len(found[0]) >= len(CREATOR) else found[0]

    return WRITTEN_CREATOR.sub(named, printed, count=1)


def _as_root() -> list[str]:
    """A browser refuses its sandbox to the root user; the page runs no script and loads nothing."""
    return ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []


def _run(words: list[str]) -> None:
    try:
        subprocess.run(words, check=True, capture_output=True, timeout=PATIENCE)  # noqa: S603
    except (OSError, subprocess.SubprocessError) as error:
        raise InputError(
            "a .pdf page", f"'{words[0]}' does not print: {error}", f"try another {BROWSER}"
        ) from error
