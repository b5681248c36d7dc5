"""The value of every option, with all stated doubts drawn where the race states any."""

from collections.abc import Callable, Iterable, Sequence

from racecalc.decisions.doubt import DEFAULT_DRAWS, DEFAULT_SEED, saving_bands
from racecalc.decisions.gain import DEFAULT_MARGIN
from racecalc.decisions.riding import Ridden
from racecalc.decisions.value import OptionValue, value_of, with_band
from racecalc.domain.option import Option
from racecalc.quantities.money import Money

Track = Callable[[Sequence[Option], str], Iterable[Option]]


def _untracked(options: Sequence[Option], _: str) -> Iterable[Option]:
    return options


def values_of(
    base: Ridden,
    options: Sequence[Option],
    margin_w: float = DEFAULT_MARGIN,
    wanted: Money | None = None,
    track: Track = _untracked,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> list[OptionValue]:
    """Say what each option is worth.

    Parameters
    ----------
    base : Ridden
        The race without any.
    options : sequence of Option
        What may be used.
    margin_w : float
        Watts at the test speed within which a difference counts as none [W].
    wanted : Money, optional
        Highest price per second the user would pay.
    track : callable
        Passes the options on one by one under a label, as a progress bar does.
    draws, seed : int
        Number of random draws of the doubts, and their seed.

    Returns
    -------
    list of OptionValue
        In the order of the options.

    Raises
    ------
    InputError
        As `value_of` and `saving_bands`.
    """
    values = [
        value_of(base, option, margin_w, wanted) for option in track(options, "solving options")
    ]
    if not base.race.doubts.stated:
        return values
    bands = saving_bands(base, track(options, "drawing doubts"), draws, seed)
    return [with_band(value, band) for value, band in zip(values, bands, strict=True)]
