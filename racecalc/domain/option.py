"""Something that may be used instead of what the athlete has."""

from dataclasses import dataclass
from typing import Literal

from racecalc.domain.position import ALWAYS, Holding
from racecalc.domain.saving import FORMS_OF, TEST_DENSITY, ActsOn, Saving, TestPowerAt
from racecalc.domain.terms import NO_UPKEEP, Upkeep
from racecalc.domain.trial import Runs
from racecalc.quantities.money import Money

Rules = Literal["allowed", "forbidden", "not checked"]


@dataclass(frozen=True)
class Ties:
    """What decides, besides seconds and money, whether an option may or will be used.

    Parameters
    ----------
    needs, excludes : tuple of str
        Options without which, and beside which, it cannot be used.
    rules : {"allowed", "forbidden", "not checked"}
        What the organiser's rules say, as far as the user knows.
    least_gain : float
        What it must be worth on the course before its owner would use it [W].
    catches_wind : bool
        Whether gusts push it about.
    """

    needs: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    rules: Rules = "not checked"
    least_gain: float = 0.0
    catches_wind: bool = False


NO_TIES = Ties()


@dataclass(frozen=True)
class Option:
    """Something the athlete may use instead of what they have.

    Parameters
    ----------
    name : str
        What it is called.
    slot : str
        Where it goes; one option of a slot can be used at a time.
    price : Money, optional
        Purchase price.
    mass : float
        Change of mass against what it replaces [kg].
    saves : Saving, optional
        Stated saving.
    doubt : Saving, optional
        Standard uncertainty of the saving, in any form; none if it is not known.
    acts_on : {"air", "tyres", "drivetrain"}
        Which loss the saving reduces.
    test_density : float
        Air density that the stated watts or newtons refer to [kg/m^3].
    test_density_given : bool
        Whether the user stated it.
    test_power_at : {"wheel", "cranks"}
        Where the stated watts were counted.
    note, comfort : str
        The user's own words: in general, and on how it feels. No number is made of them.
    set_of : tuple of str
        Names of the options that were tested together; then `saves` is that of the whole set,
        and its mass and price are theirs. Empty for an option of its own.
    trial : Runs, optional
        Runs of a test that tell the saving and its doubt instead of `saves` and `doubt`.
    trial_item, trial_baseline : str
        Names of the option and of what it is compared with in the runs; by default the name of
        the option and the item of the first run.
    trial_rider : str
        Who rides the race, if they are among the tested riders.
    upkeep : Upkeep
        What it costs besides its price.
    holding : Holding
        How much of the race it is held, and the power that costs.
    ties : Ties
        What else decides whether it may be used.

    Raises
    ------
    ValueError
        If the saving or its doubt is stated in a form that does not fit `acts_on`.
    """

    name: str
    slot: str = ""
    price: Money | None = None
    mass: float = 0.0
    saves: Saving | None = None
    doubt: Saving | None = None
    acts_on: ActsOn = "air"
    test_density: float = TEST_DENSITY
    test_density_given: bool = False
    test_power_at: TestPowerAt = "wheel"
    note: str = ""
    set_of: tuple[str, ...] = ()
    trial: Runs | None = None
    trial_item: str = ""
    trial_baseline: str = ""
    trial_rider: str = ""
    upkeep: Upkeep = NO_UPKEEP
    holding: Holding = ALWAYS
    ties: Ties = NO_TIES
    comfort: str = ""

    @property
    def to_pay(self) -> float | None:
        """Its price; 0 for what is owned, None where no price is stated."""
        if self.upkeep.owned:
            return 0.0
        return None if self.price is None else float(self.price.amount)

    def __post_init__(self) -> None:
        for stated in (self.saves, self.doubt, self.holding.otherwise):
            if stated and stated.form not in FORMS_OF[self.acts_on]:
                raise ValueError(f"'{stated.words}' says nothing about {self.acts_on}")

    @property
    def is_set(self) -> bool:
        """Whether it is a test of several options as one."""
        return bool(self.set_of)

    @property
    def forbidden(self) -> bool:
        """Whether the race file says that the rules forbid it."""
        return self.ties.rules == "forbidden"
