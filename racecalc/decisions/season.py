"""What an option is worth over all rounds of a season, each on its own course."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.option import Option


@dataclass(frozen=True)
class SeasonValue:
    """An option over several rounds; positive seconds are saved.

    Parameters
    ----------
    name : str
        The option.
    rounds : tuple of str
        Names of the rounds.
    saved_s : tuple of float
        Seconds saved in each.
    total_s : float
        Their sum.
    doubt_s : float or None
        Standard uncertainty of the sum, the saving being wrong alike in every round; None where
        none is stated.
    to_pay : float or None
        What buying it costs, in whole units of its currency; None without a price, 0 if owned.
    price_per_second : float or None
        That over the seconds of all rounds; None without a price or a gain.
    """

    name: str
    rounds: tuple[str, ...]
    saved_s: tuple[float, ...]
    total_s: float
    doubt_s: float | None
    to_pay: float | None
    price_per_second: float | None

    @property
    def least(self) -> int:
        """Number, from 1, of the round in which it saves least."""
        return 1 + self.saved_s.index(min(self.saved_s))

    @property
    def most(self) -> int:
        """Number, from 1, of the round in which it saves most."""
        return 1 + self.saved_s.index(max(self.saved_s))


def season_values(rounds: Sequence[Ridden], options: Iterable[Option]) -> tuple[SeasonValue, ...]:
    """Try options in every round of a season.

    Parameters
    ----------
    rounds : sequence of Ridden
        The rounds without any option, each with its own rider, bike, air and course.
    options : iterable of Option
        As a race file states them: a sweep over yaw is weighted anew in each round.

    Returns
    -------
    tuple of SeasonValue
        In the order of the options.

    Raises
    ------
    InputError
        If an option cannot be tried in a round.
    """
    return tuple(
        _season_value(rounds, option, [worth_of(base, option) for base in rounds])
        for option in options
    )


def _season_value(rounds: Sequence[Ridden], option: Option, worths: Sequence[Worth]) -> SeasonValue:
    saved = tuple(worth.saved_s for worth in worths)
    doubts = [worth.doubt_s for worth in worths]
    known = [doubt for doubt in doubts if doubt is not None]
    total = sum(saved)
    to_pay = option.to_pay
    return SeasonValue(
        name=option.name,
        rounds=tuple(base.race.name for base in rounds),
        saved_s=saved,
        total_s=total,
        doubt_s=sum(known) if len(known) == len(doubts) else None,
        to_pay=to_pay,
        price_per_second=None if to_pay is None or total <= 0 else to_pay / total,
    )
