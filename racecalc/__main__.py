"""Start of the program: ``racecalc`` and ``python -m racecalc``."""

import os
import sys


def main() -> None:
    """Run the command line and turn every error into one line and an exit status."""
    # Several threads only wait for each other on arrays of some thousand values.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from racecalc.views.command_line import run

    sys.exit(run())


if __name__ == "__main__":
    main()
