"""A position on the bike: how much of the race it is held, and what it costs."""

from dataclasses import dataclass

from racecalc.domain.saving import Saving
from racecalc.quantities.kinds import POWER, RATIO
from racecalc.quantities.reading import QuantityError, read


@dataclass(frozen=True)
class PowerLoss:
    """Power that a position or warm clothing costs.

    Parameters
    ----------
    watts : float
        [W]
    share : float
        Share of the race power, used where `watts` is 0.
    words : str
        As stated.

    Raises
    ------
    ValueError
        If it leaves no power.
    """

    watts: float = 0.0
    share: float = 0.0
    words: str = ""

    def __post_init__(self) -> None:
        if not -1 < self.share < 1:
            raise ValueError("a loss of power must leave some")

    def of(self, power: float) -> float:
        """The loss at a race power [W]."""
        return self.watts or self.share * power


@dataclass(frozen=True)
class Holding:
    """How an option is held over the race.

    Parameters
    ----------
    shares : tuple of float
        Share of the riding time in which it is held, one for each of as many equal parts of the
        course, from start to finish.
    otherwise : Saving, optional
        What is saved while it is not held, where the rider does not go back to the old position.
    power_loss : PowerLoss, optional
        Power that it costs while held.

    Raises
    ------
    ValueError
        If a share lies outside 0 to 1 or none is given.
    """

    shares: tuple[float, ...] = (1.0,)
    otherwise: Saving | None = None
    power_loss: PowerLoss | None = None

    def __post_init__(self) -> None:
        if not self.shares or not all(0 <= share <= 1 for share in self.shares):
            raise ValueError("shares must lie between 0 and 1")

    @property
    def always(self) -> bool:
        """Whether it is held all the time."""
        return all(share == 1.0 for share in self.shares)


ALWAYS = Holding()


def read_power_loss(text: str) -> PowerLoss:
    """Read a loss of power.

    Parameters
    ----------
    text : str
        As "4 W" or "1.5 %" (of the race power); negative for a gain.

    Returns
    -------
    PowerLoss
        As stated.

    Raises
    ------
    QuantityError
        If it is neither, or leaves no power.

    Examples
    --------
    >>> read_power_loss("1.5 %").of(262.0)
    3.93
    """
    if "%" in text:
        share = read(text, RATIO)
        if not -1 < share < 1:
            raise QuantityError(f"'{text}' leaves no power", 'write for example "1.5 %"')
        return PowerLoss(share=share, words=text)
    return PowerLoss(watts=read(text, POWER), words=text)
