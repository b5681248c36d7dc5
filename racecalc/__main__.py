"""Start of the program: ``racecalc`` and ``python -m racecalc``."""

import gc
import os
import sys


def main() -> None:
    """Run the command line and turn every error into one line and an exit status."""
    # Several threads only wait for each other on arrays of some thousand values.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What is loaded stays: to look through it again and again for garbage is in vain.
    gc.set_threshold(100_000)
    from racecalc.views.command_line import run

    sys.exit(run())


if __name__ == "__main__":
    main()
