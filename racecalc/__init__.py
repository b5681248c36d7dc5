"""What a watt, a gram or an euro is worth in seconds on a rider's own course.

>>> import racecalc
>>> round(racecalc.ask("quick", "40km", "250W", "0.25m2", "83kg").answer.timed.time_s)
3655

From Python, `read_race` reads a race file and `ask` asks what a command asks; its `Answer` is the
dataclass of the answer, its sheet and its notices. ``racecalc help python`` shows more.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from racecalc.errors import InputError
    from racecalc.views.notebook import Answer, ask, read_race

__all__ = ["Answer", "InputError", "ask", "read_race"]
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    """Load what is public when it is first used, so that the import itself is quick."""
    if name not in __all__:
        raise AttributeError(f"module 'racecalc' has no attribute '{name}'")
    from racecalc import errors
    from racecalc.views import notebook

    return getattr(notebook, name, None) or getattr(errors, name)
