"""Start of the program: ``racecalc`` and ``python -m racecalc``."""

import sys


def main() -> None:
    """Run the command line and turn every error into one line and an exit status."""
    from racecalc.views.command_line import run

    sys.exit(run())


if __name__ == "__main__":
    main()
