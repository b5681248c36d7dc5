"""From which saving on an option pays: for its weight, its price, another option, and so on."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.holding import held_change, ridden_with
from racecalc.decisions.money import CostOfUse, cost_with, seconds_to_pay
from racecalc.decisions.riding import Ridden, multiple_needed
from racecalc.decisions.savings import assumptions_of, change_of, watt_at_test
from racecalc.decisions.verdicts import chance_faster, interval, interval_of
from racecalc.decisions.weather import unsafe_now
from racecalc.decisions.worth import Worth, ride_using, worth_of
from racecalc.domain.option import Holding, Option
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money, amount_text
from racecalc.written import HIDDEN, As

POINTS = 33
"""Points of the curve of net seconds; our choice."""

AXIS_OF = {"air": "cda", "tyres": "crr", "drivetrain": "drivetrain_loss"}
"""What a saving that acts on each loss changes."""


@dataclass(frozen=True)
class BreakEven:
    """What must be saved to make up for one thing."""

    reason: str
    """What it makes up for."""
    to_gain_s: float
    """What must be gained on the course, without the option's own saving [s]."""
    watts_w: float | None
    """Watts at the test that do it, negative where it may even cost some; None where no saving
    does.
    """
    saving: Annotated[Change | None, As(cda_m2="cda", crr="crr", drivetrain_loss="drivetrain_loss")]
    """The same as what it must save: drag area [m^2], rolling-resistance coefficient or share of
    drivetrain loss.
    """
    margin_w: float | None
    """Watts that the stated saving has beyond that; None without a stated saving."""
    chance: float | None
    """Chance that it saves as much, by its own doubt; None where that is not stated."""
    of_cost: Annotated[bool, HIDDEN] = False
    """Whether it makes up for the cost."""


@dataclass(frozen=True)
class CurvePoint:
    """A point of the curve of net seconds over watts."""

    watts_w: float
    """Watts saved at the test."""
    saved_s: float
    """Net seconds saved on the course with them."""


@dataclass(frozen=True)
class BreakEvens:
    """What an option must save to pay off."""

    option: Annotated[Option, As(name="name", acts_on="acts_on")]
    """What is asked about, with the saving of its test if it names one."""
    break_evens: tuple[BreakEven, ...]
    """One a reason."""
    claim_w: float | None
    doubt_w: float | None
    """Stated saving and its standard uncertainty in watts at the test; None where not stated."""
    test_speed_m_s: float
    test_power_w: float
    """What these watts refer to; 0 for the one that does not apply."""
    curve: tuple[CurvePoint, ...]
    """From no watts, or less, to beyond all that are asked about."""
    saved_s: float | None
    saved_s_low: float | None
    saved_s_high: float | None
    """Net seconds at the stated saving, and their 95 % interval by its own doubt; None where not
    stated.
    """
    assumptions_of_test: tuple[str, ...]
    """What had to be assumed about the test."""
    use: Annotated[CostOfUse, As(cost="cost", basis="by", races_counted="races_counted")]
    """What it costs."""
    unsafe: str
    """Why it is not to be used in the weather of the race file; empty where it may be."""

    @property
    def band_w(self) -> tuple[float, float] | None:
        """95 % interval of the stated saving [W]; None where its doubt is not stated."""
        if self.claim_w is None or not self.doubt_w:
            return None
        return interval_of(self.claim_w, self.doubt_w)


@dataclass(frozen=True)
class Against:
    """What an option may have to make up for, besides its weight."""

    per_second: Money | None = None
    """What a second is worth to the user."""
    rivals: tuple[Option, ...] = ()
    """Options that it must be as good as."""
    used_with: tuple[Option, ...] = ()
    """Options used with it, whose loss it must make up for."""
    holds: tuple[Holding, ...] = ()
    """How long it may be held."""


def break_evens(base: Ridden, option: Option, against: Against) -> BreakEvens:
    """Work out what an option must save to pay off, on the full course.

    A row for its weight, and one for each further reason; the option need not state a saving.

    Raises `InputError` if its test says nothing about it, or nothing can be ridden with it.
    """
    worth = worth_of(base, option)
    if worth.exchange.in_use:
        base = ride_using(base.bare, worth.exchange.without, base.race.tested_sets)
    option, stated = worth.option, worth.option.saves is not None
    scale = _Scale.of(base, worth)
    rows = tuple(scale.row(*reason) for reason in _reasons(base, worth, against))
    low, high = interval(worth.saved_s, worth.doubt_s if stated else None)
    return BreakEvens(
        option=option,
        break_evens=rows,
        claim_w=scale.claim,
        doubt_w=scale.doubt,
        test_speed_m_s=scale.speed,
        test_power_w=scale.power,
        curve=tuple(scale.curve(_span(rows, scale))),
        saved_s=worth.saved_s if stated else None,
        saved_s_low=low,
        saved_s_high=high,
        assumptions_of_test=assumptions_of(option, base.race),
        use=cost_with(base, option, worth.exchange.brings),
        unsafe=unsafe_now(base, option),
    )


def _reasons(
    base: Ridden, worth: Worth, against: Against
) -> Iterator[tuple[str, float, Change, Holding, bool]]:
    """Each reason: time to reach, what else changes, how long it is held, if it is the cost."""
    option = worth.option
    nothing, always = Change(), option.holding
    burdens = ["weight"] if option.mass else []
    burdens += ["loss of power"] if always.power_loss is not None else []
    own = f"its {' and '.join(burdens)}" if burdens else "no weight"
    yield own, base.time, nothing, always, False
    use, per_second = cost_with(base, option, worth.exchange.brings), against.per_second
    seconds = None if per_second is None else seconds_to_pay(use, per_second)
    if use.paid and seconds is not None:
        both = f"{own} and its cost" if burdens else "its cost"
        words = f"{both}, {amount_text(use.cost, use.currency)} at {per_second} per second"
        yield words, base.time - seconds, nothing, always, True
    if wish := option.restrictions.least_gain:
        time = base.changed(Change(power=wish)).time
        yield f"the {wish:.0f} W you want of it here", time, nothing, always, False
    for rival in against.rivals:
        time = worth_of(base, rival).changed.time
        yield f"being as good as {rival.name}", time, nothing, always, False
    for other in against.used_with:
        change = worth_of(base, other).change
        yield f"using {other.name} with it", base.time, change, always, False
    for holding in against.holds:
        shares = ", ".join(f"{100 * share:.0f} %" for share in holding.shares)
        yield f"{own}, held {shares}", base.time, nothing, holding, False


@dataclass(frozen=True)
class _Scale:
    """Watts at the test of an option, and what they change on the course."""

    base: Ridden
    option: Option
    rest: Change
    watt: Change
    speed: float
    power: float
    claim: float | None
    doubt: float | None

    @classmethod
    def of(cls, base: Ridden, worth: Worth) -> "_Scale":
        option, race = worth.option, base.race
        watt, speed, power = watt_at_test(option, race, race.course.length / base.time)
        axis = AXIS_OF[option.acts_on]

        def in_watts(change: Change) -> float:
            return float(getattr(change, axis) / getattr(watt, axis))

        claim = in_watts(change_of(option.saves, option, race)) if option.saves else None
        doubt = abs(in_watts(change_of(option.doubt, option, race))) if option.doubt else None
        return cls(base, option, worth.rest, watt, speed, power, claim, doubt)

    def change(self, watts: float, holding: Holding) -> Change:
        """What the option changes if it saves so many watts at its test while it is held."""
        held = Change(mass=self.option.mass).plus(self.watt.times(watts))
        own = held_change(replace(self.option, holding=holding), held, self.base)
        return own.plus(self.rest)

    def net(self, watts: float) -> float:
        """Seconds saved with so many watts, as long as it is held [s]."""
        change = self.change(watts, self.option.holding)
        return self.base.time - ridden_with(self.base, change, self.option.name).time

    def curve(self, watts: FloatArray) -> Iterator[CurvePoint]:
        """Net seconds over watts, without more of them than there is to save."""
        for one in watts.tolist():
            with suppress(InputError):
                yield CurvePoint(one, self.net(one))

    def row(
        self, reason: str, target: float, also: Change, holding: Holding, of_cost: bool
    ) -> BreakEven:
        """The saving that reaches a time although something else changes too."""
        without = self.base.changed(self.change(0.0, holding).plus(also))
        watts = self._needed(without, target, also, holding)
        margin = None if watts is None or self.claim is None else self.claim - watts
        return BreakEven(
            reason=reason,
            to_gain_s=without.time - target,
            watts_w=watts,
            # Added to nothing, what is not saved is 0 and not -0.
            saving=None if watts is None else Change().plus(self.watt.times(-watts)),
            margin_w=margin,
            chance=None if margin is None else chance_faster(margin, self.doubt),
            of_cost=of_cost,
        )

    def _needed(
        self, without: Ridden, target: float, also: Change, holding: Holding
    ) -> float | None:
        if holding.always:
            return multiple_needed(without, self.watt, target)
        if not any(holding.shares):
            return None

        def too_slow(watts: float) -> float:
            return self.base.changed(self.change(watts, holding).plus(also)).time - target

        from scipy.optimize import newton

        guess = multiple_needed(without, self.watt, target) or 0.0
        try:
            return float(newton(too_slow, guess, x1=1.2 * guess + 0.1, tol=1e-7))
        except (InputError, RuntimeError):
            # No saving that leaves a bike does it.
            return None


def _span(rows: tuple[BreakEven, ...], scale: _Scale) -> FloatArray:
    """Watts over which the curve shows the claim and every break-even that is near."""
    claim, doubt = scale.claim or 0.0, scale.doubt or 0.0
    ends = [*interval_of(claim, doubt)]
    ends += [row.watts_w for row in rows if row.watts_w is not None]
    low, high = min(0.0, *ends), max(*ends, 1.0)
    return np.linspace(low, 1.1 * high, POINTS)
