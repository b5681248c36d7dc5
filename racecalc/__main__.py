"""Start of the program: ``racecalc`` and ``python -m racecalc``."""

import contextlib
import io
import os
import sys


def main() -> int:
    """Run the command line, which turns every error into one line and an exit status."""
    with contextlib.suppress(OSError, io.UnsupportedOperation):
        _keep_output_for_answers()
    from racecalc.views.command_line import run

    status = run()
    with contextlib.suppress(BrokenPipeError, ValueError):
        sys.stdout.flush()
    return status


def _keep_output_for_answers() -> None:
    """Send what compiled libraries print to standard error, so that answers stay parsable.

    The integer solver prints a line of its own now and then, past ``sys.stdout``.
    """
    encoding, lines = sys.stdout.encoding, sys.stdout.isatty()
    answers = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    sys.stdout = open(answers, "w", encoding=encoding, buffering=1 if lines else -1)  # noqa: SIM115, PTH123


if __name__ == "__main__":
    sys.exit(main())
