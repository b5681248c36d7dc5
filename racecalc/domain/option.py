"""An option: what it saves, how it is stated, its price, slot, rules and position."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Literal

from racecalc.domain.trial import SIZED, Runs
from racecalc.errors import InputError, require
from racecalc.quantities.kinds import AREA, FORCE, LENGTH, MASS, POWER, RATIO, SPEED, TIME, Kind
from racecalc.quantities.measured import QuantityError, split_digits, tidy
from racecalc.quantities.money import Money
from racecalc.quantities.reading import read

# --- A saving in the words it was stated in ------------------------------------------------------

SavingForm = Literal[
    "power at speed", "power at power", "share of power", "force", "area", "share of area", "crr"
]
ActsOn = Literal["air", "tyres", "drivetrain"]
TestPowerAt = Literal["wheel", "cranks"]

FORMS_OF: dict[ActsOn, frozenset[SavingForm]] = {
    "air": frozenset({"power at speed", "share of power", "force", "area", "share of area"}),
    "tyres": frozenset({"power at speed", "share of power", "force", "crr"}),
    "drivetrain": frozenset({"power at power", "share of power"}),
}
"""Forms of a saving that make sense for each loss."""

TEST_DENSITY = 1.20
"""Air density of a test that does not state it [kg/m^3]: about 20 degC at sea level; assumed."""

EXAMPLES = (
    '"4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2 % of CdA",'
    ' "0.38 N at 45 km/h", "30 gram-force at 30 mph" or "0.0004 of Crr"'
)


@dataclass(frozen=True)
class Saving:
    """A saving or its standard uncertainty as stated; positive saves, negative costs."""

    form: SavingForm
    """What kind of statement it is."""
    amount: float
    """In SI: W, N, m^2 or a share."""
    condition: float
    """Speed [m/s] or power [W] of the test; 0 where the form needs none."""
    words: str
    """The statement itself."""


def read_saving(text: str) -> Saving:
    """Read a saving in any of the forms people state it in.

    >>> read_saving("1.6 % of power at 250 W").amount
    0.016
    """
    words = " ".join(text.replace("@", " at ").split())
    amount, of, at = split_saving(words)
    if of:
        return _share(words, amount, of.casefold(), at)
    if at:
        return _at_condition(words, amount, at)
    return _without_condition(words, amount)


def split_saving(words: str) -> tuple[str, str, str]:
    """Split a saving into its amount, what it is a share of, and its condition; "" for none.

    >>> split_saving("1.6 % of power at 250 W")
    ('1.6 %', 'power', '250 W')
    """
    found = re.fullmatch(r"(.+?)(?: of (.+?))?(?: at (.+))?", words)
    if found is None:
        raise QuantityError("an empty saving", f"write {EXAMPLES}")
    return found[1], found[2] or "", found[3] or ""


def _share(words: str, amount: str, of: str, at: str) -> Saving:
    if of == "power":
        if not at:
            problem = f'"{words}" does not say at which power'
            raise QuantityError(problem, f'write "{words} at 250 W"')
        return Saving("share of power", read(amount, RATIO), positive(at, POWER), words)
    if of == "cda":
        if is_kind(amount, AREA):
            return Saving("area", read(amount, AREA), 0.0, words)
        return Saving("share of area", read(amount, RATIO), 0.0, words)
    if of != "crr":
        raise QuantityError(f'"{words}": a saving "of {of}" is not understood', f"write {EXAMPLES}")
    if "%" in amount:
        problem = f'"{words}" may mean a share of Crr or a change of it'
        raise QuantityError(problem, 'write "0.0004 of Crr"')
    return Saving("crr", read(amount, RATIO), 0.0, words)


def _at_condition(words: str, amount: str, at: str) -> Saving:
    # "30 g at 30 mph" means a force; reading it as one says what to write.
    if is_kind(amount, FORCE) or is_kind(amount, MASS):
        return Saving("force", read(amount, FORCE), positive(at, SPEED), words)
    if is_kind(at, POWER):
        return Saving("power at power", read(amount, POWER), positive(at, POWER), words)
    return Saving("power at speed", read(amount, POWER), positive(at, SPEED), words)


def positive(text: str, kind: Kind) -> float:
    """Read an amount above zero, in SI; a speed or power up to what no rider reaches."""
    value = read(text, kind)
    remedy = f'write for example "{kind.example}"'
    if value <= 0:
        raise QuantityError(f'"{text}" must be more than zero', remedy)
    if kind in (SPEED, POWER) and not 0.01 < value < 10_000:
        raise QuantityError(f'"{text}" is no {kind.name} of a rider', remedy)
    return value


def _without_condition(words: str, amount: str) -> Saving:
    if is_kind(amount, AREA):
        return Saving("area", read(amount, AREA), 0.0, words)
    if is_kind(amount, POWER):
        raise QuantityError(
            f'"{words}" does not say at which speed, and the speed decides what it means:'
            f" {areas_by_speed(read(amount, POWER), TEST_DENSITY)}",
            f'write for example "{words} at 45 km/h"',
        )
    if is_kind(amount, FORCE):
        problem = f'"{words}" does not say at which wind speed'
        raise QuantityError(problem, f'write for example "{words} at 50 km/h"')
    if "%" in words and is_kind(amount, RATIO):
        raise QuantityError(
            _of_what(words, read(amount, RATIO)),
            f'write "{words} of CdA" or "{words} of power at 250 W"',
        )
    raise QuantityError(f'"{words}" is not a saving', f"write {EXAMPLES}")


def _of_what(words: str, share: float) -> str:
    """That a share does not say of what, with what it would be of each."""
    return (
        f'"{words}" does not say of what: of a CdA of 0.25 m^2 it is {0.25 * share:.4f} m^2, of'
        f" 250 W it is {250 * share:.1f} W"
    )


def areas_by_speed(watts: float, density: float) -> str:
    """Drag areas that a power is worth at speeds of tests, in words [W, kg/m^3]."""
    areas = (
        f"{2.0 * watts / (density * (speed / 3.6) ** 3):.4f} m^2 at {speed} km/h"
        for speed in (40, 45, 50)
    )
    return f"of CdA it is {', '.join(areas)}"


def is_kind(text: str, kind: Kind) -> bool:
    """Whether the text reads as a quantity of this kind."""
    try:
        read(text, kind)
    except QuantityError:
        return False
    return True


# --- A position on the bike ----------------------------------------------------------------------


@dataclass(frozen=True)
class PowerLoss:
    """Power that a position or warm clothing costs.

    Raises `ValueError` if it leaves no power.
    """

    watts: float = 0.0
    """[W]"""
    share: float = 0.0
    """Share of the race power, used where `watts` is 0."""
    words: str = ""
    """As stated."""

    def __post_init__(self) -> None:
        require(-1 < self.share < 1, "a loss of power must leave some power")

    def of(self, power: float) -> float:
        """The loss at a race power [W]."""
        return self.watts or self.share * power


@dataclass(frozen=True)
class Holding:
    """How an option is held over the race.

    Raises `ValueError` if a share lies outside 0 to 1 or none is given.
    """

    shares: tuple[float, ...] = (1.0,)
    """Share of the riding time in which it is held, one for each of as many equal parts of the
    course, from start to finish.
    """
    otherwise: Saving | None = None
    """What is saved while it is not held, where the rider does not go back to the old position."""
    power_loss: PowerLoss | None = None
    """Power that it costs while held."""

    def __post_init__(self) -> None:
        within = self.shares and all(0 <= share <= 1 for share in self.shares)
        require(within, "shares must lie between 0 and 1")

    @property
    def always(self) -> bool:
        """Whether it is held all the time."""
        return all(share == 1.0 for share in self.shares)


ALWAYS = Holding()


def read_power_loss(text: str) -> PowerLoss:
    """Read a loss of power.

    >>> read_power_loss("1.5 %").of(262.0)
    3.93
    """
    if "%" in text:
        share = read(text, RATIO)
        if not -1 < share < 1:
            raise QuantityError(f"'{text}' leaves no power", 'write for example "1.5 %"')
        return PowerLoss(share=share, words=text)
    return PowerLoss(watts=read(text, POWER), words=text)


# --- What using an option costs, and what the athlete can spend ----------------------------------

LifeUnit = Literal["races", "years", "m", "s"]

_COUNTED: dict[str, LifeUnit] = {
    **dict.fromkeys(("race", "races"), "races"),
    **dict.fromkeys(("year", "years"), "years"),
}
_REMEDY = 'write for example "40 races", "3 years", "1500 km" or "60 h"'


@dataclass(frozen=True)
class Life:
    """How long something serves.

    Raises `ValueError` if it serves for no time.
    """

    amount: float
    """More than zero."""
    unit: LifeUnit
    """Races, years, or metres or seconds of racing."""

    def __post_init__(self) -> None:
        require(self.amount > 0, "a life must be longer than zero")


@dataclass(frozen=True)
class Ownership:
    """What an option costs besides its purchase price."""

    hire: Money | None = None
    """Fee for one race."""
    resale: Money | None = None
    """What it still fetches at the end of its life."""
    life: Life | None = None
    """How long it serves."""
    owned: bool = False
    """Whether the athlete has it already, so that using it costs nothing more."""


BOUGHT_NEW = Ownership()


@dataclass(frozen=True)
class MoneyTerms:
    """What the athlete can and would spend."""

    per_second: Money | None = None
    """Most they would pay for a second on this course."""
    budget: Money | None = None
    """Most they would spend in all."""
    races_a_season: int | None = None
    """Races a season."""
    test_fee: Money | None = None
    """What a test costs."""


NO_MONEY_TERMS = MoneyTerms()


def read_life(text: str) -> Life:
    """Read how long something serves.

    >>> read_life("40 races")
    Life(amount=40.0, unit='races')
    >>> read_life("1500 km")
    Life(amount=1500000.0, unit='m')
    """
    number, _, last = " ".join(text.split()).partition(" ")
    unit = _COUNTED.get(last.casefold()) or ("m" if is_kind(text, LENGTH) else "s")
    if unit == "s" and not is_kind(text, TIME):
        raise QuantityError(f"'{text}' does not say how long it serves", _REMEDY)
    kind = {"m": LENGTH, "s": TIME}.get(unit)
    amount = read(text, kind) if kind else read(number, RATIO)
    if not amount > 0:
        raise QuantityError(f"'{text}' is no time at all", _REMEDY)
    return Life(amount, unit)


# --- Something that may be used instead of what the athlete has ----------------------------------

Rules = Literal["allowed", "forbidden", "not checked"]


@dataclass(frozen=True)
class Restrictions:
    """What decides, besides seconds and money, whether an option may or will be used."""

    needs: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    """Options without which, and beside which, it cannot be used."""
    rules: Rules = "not checked"
    """What the organiser's rules say, as far as the user knows."""
    least_gain: float = 0.0
    """What it must be worth on the course before its owner would use it [W]."""
    catches_wind: bool = False
    """Whether gusts push it about."""
    gust_limit: float | None = None
    """Gust at the rider from which it cannot be ridden [m/s]; None where its owner states none."""
    heat_limit: float | None = None
    """Air temperature from which it must not be used [K]; None for none."""


UNRESTRICTED = Restrictions()


@dataclass(frozen=True)
class Option:
    """Something the athlete may use instead of what they have.

    Raises `ValueError` if the saving or its doubt is stated in a form that does not fit `acts_on`.
    """

    name: str
    """What it is called."""
    slot: str = ""
    """Where it goes; place on bike or rider; one option of a slot is used at a time."""
    price: Money | None = None
    """Purchase price."""
    mass: float = 0.0
    """Change of mass against what it replaces [kg]."""
    saves: Saving | None = None
    """Stated saving."""
    doubt: Saving | None = None
    """Standard uncertainty of the saving, in any form; none if it is not known."""
    measured: Saving | None = None
    """What its test measured, where `saves` is the shrunken estimate of that."""
    unproved: str = ""
    """Why its test proves nothing for this rider; empty where it does."""
    acts_on: ActsOn = "air"
    """Which loss the saving reduces."""
    test_density: float = TEST_DENSITY
    """Air density that the stated watts or newtons refer to [kg/m^3]."""
    test_density_given: bool = False
    """Whether the user stated it."""
    test_power_at: TestPowerAt = "wheel"
    """Where the stated watts were counted."""
    note: str = ""
    """The user's own words; no number is made of them."""
    set_of: tuple[str, ...] = ()
    """Names of the options that were tested together; then `saves` is that of the whole set, and
    its mass and price are theirs. Empty for an option of its own.
    """
    trial: Runs | None = None
    """Runs of a test that tell the saving and its doubt instead of `saves` and `doubt`."""
    trial_sheet: Path | None = None
    """Sheet of a test day that the runs are measured by; until then `trial` is None."""
    trial_item: str = ""
    trial_baseline: str = ""
    """Names of the option and of what it is compared with in the runs; by default the name of the
    option and the item of the first run.
    """
    trial_rider: str = ""
    """Who rides the race, where the runs name them otherwise than the race does."""
    size: str = ""
    """The rider's own size of it."""
    test_size: str = ""
    """The size that was tested; by default that of the item in the runs."""
    trial_day_to_day: float | None = None
    """Standard deviation by which a difference of the test changes from day to day, in the unit of
    its measure; None takes what is usual.
    """
    ownership: Ownership = BOUGHT_NEW
    """What it costs besides its price."""
    holding: Holding = ALWAYS
    """How much of the race it is held, and the power that costs."""
    restrictions: Restrictions = UNRESTRICTED
    """What else decides whether it may be used."""
    comfort: str = ""
    """The user's own words on how it feels; no number is made of them."""

    @property
    def to_pay(self) -> float | None:
        """Its price; 0 for what is owned, None where no price is stated."""
        if self.ownership.owned:
            return 0.0
        return None if self.price is None else float(self.price.amount)

    def __post_init__(self) -> None:
        for stated in (self.saves, self.doubt, self.holding.otherwise):
            if stated and stated.form not in FORMS_OF[self.acts_on]:
                raise ValueError(f"'{stated.words}' says nothing about {self.acts_on}")

    @property
    def other_size(self) -> str:
        """The size that was tested where it is not the rider's; "" where one is not stated."""
        tested = self.test_size or (self.trial_item or self.name).partition(SIZED)[2]
        same = tested.strip().casefold() == self.size.strip().casefold()
        return tested if self.size and not same else ""

    @property
    def is_set(self) -> bool:
        """Whether it is a test of several options as one."""
        return bool(self.set_of)

    @property
    def forbidden(self) -> bool:
        """Whether the race file says that the rules forbid it."""
        return self.restrictions.rules == "forbidden"


def clash(one: Option, other: Option) -> bool:
    """Whether two options cannot be used together: one slot, two positions, or as they say."""
    return (
        bool(one.slot and one.slot == other.slot)
        or other.name in one.restrictions.excludes
        or one.name in other.restrictions.excludes
        or not (one.holding.always or other.holding.always)
    )


def able(names: Collection[str], known: Mapping[str, Option]) -> tuple[str, ...]:
    """The options, in the order of the known ones, without those that lack what they need."""
    there = [name for name in known if name in names]
    kept = [name for name in there if _needs(known[name], known) <= {*there}]
    return tuple(kept) if kept == there else able(kept, known)


def _needs(option: Option, known: Mapping[str, Option]) -> set[str]:
    return {name for name in option.restrictions.needs if name in known}


def put_in(
    used: Collection[str], asked: Collection[str], known: Mapping[str, Option]
) -> tuple[str, ...]:
    """The options used once others are put in, with their needs, for what cannot stay with them."""
    added, waiting = set(asked), [*asked]
    while waiting:
        new = _needs(known[waiting.pop()], known) - added
        added |= new
        waiting += new
    return able({*staying(used, added, known), *added}, known)


def staying(used: Collection[str], added: Collection[str], known: Mapping[str, Option]) -> set[str]:
    """The options used that can stay with others."""
    return {one for one in used if not any(clash(known[one], known[other]) for other in added)}


def misfit(options: Sequence[Option]) -> tuple[str, str] | None:
    """Why options cannot be used together, and what to do about it; None where they can."""
    names, held = [one.name for one in options], [one for one in options if not one.holding.always]
    slots = [one.slot for one in options if one.slot]
    for one in options:
        if names.count(one.name) > 1:
            return f"'{one.name}' is named twice", "name each option once"
        if slots.count(one.slot) > 1:
            return f"two options of the slot '{one.slot}'", "name one of each slot"
        for other in one.restrictions.excludes:
            if other in names:
                return f"'{one.name}' cannot be used together with '{other}'", "name one of them"
        for other in one.restrictions.needs:
            if other not in names:
                return f"'{one.name}' needs '{other}'", "name both"
    if len(held) > 1:
        pair = f"'{held[0].name}' and '{held[1].name}'"
        return f"{pair} are positions, and only one can be held at a time", "name one of them"
    return None


NO_OTHERS: Mapping[str, Money | None] = {}


def refuse_mixed_currencies(
    options: Iterable[Option], others: Mapping[str, Money | None] = NO_OTHERS
) -> None:
    """Make sure that prices can be compared: no rate of exchange is ever assumed."""
    known: dict[str, str] = {}
    named = list(others.items())
    for option in options:
        stated = option.price, option.ownership.hire, option.ownership.resale
        named += [(f"option {option.name}", money) for money in stated]
    for name, money in named:
        if money:
            known.setdefault(money.currency, name)
    if len(known) > 1:
        (one, first), (other, second) = list(known.items())[:2]
        problem = f"one is in {one}, the other in {other}"
        remedy = "give every price in one currency, at a rate of your own"
        raise InputError(f"{first} and {second}", problem, remedy)


# --- A change of drag in any of the ways people state it, with or without its condition ----------

DragForm = Literal["power", "share of power", "area", "share of area", "force", "pace"]

DRAG_EXAMPLES = (
    '"4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2 % of CdA",'
    ' "0.38 N at 45 km/h", "30 gram-force at 30 mph", "1 s/km at 250 W" or "40 s/40 km"'
)


@dataclass(frozen=True)
class StatedDrag:
    """A change of drag as stated; positive saves."""

    form: DragForm
    amount: float
    """In SI: W, N, m^2, a share, or for "pace" seconds a metre."""
    speed: float | None
    power: float | None
    """What it refers to [m/s], [W]."""
    words: str
    """The statement itself."""
    half_digit: float
    """Half of the last digit that was written, over the amount: what rounding may hide."""

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest amount that is written with the same digits."""
        half = abs(self.amount) * self.half_digit
        return self.amount - half, self.amount + half


def read_drag(text: str) -> StatedDrag:
    """Read a change of drag.

    >>> read_drag("2.4 % of power").form, read_drag("40 s per 40 km").amount
    ('share of power', 0.001)
    """
    words = " ".join(text.replace("@", " at ").split())
    amount, of, at = split_saving(words)
    form, value, number = _amount(words, amount, of.casefold())
    speed = positive(at, SPEED) if at and not is_kind(at, POWER) else None
    power = positive(at, POWER) if at and speed is None else None
    if form in ("area", "share of area") and at:
        raise QuantityError(f'"{words}": an area needs no condition', f'write "{amount}"')
    if form == "force" and power is not None:
        problem = f'"{words}": a force refers to a wind speed'
        raise QuantityError(problem, f'write "{amount} at 45 km/h"')
    return StatedDrag(form, value, speed, power, words, _half_digit(number))


def _amount(words: str, amount: str, of: str) -> tuple[DragForm, float, str]:
    """Form, value in SI, and the text that holds its number."""
    if of == "power":
        return "share of power", read(amount, RATIO), amount
    if of == "cda":
        area = is_kind(amount, AREA)
        return ("area" if area else "share of area"), read(amount, AREA if area else RATIO), amount
    if of:
        problem = f'"{words}": a share "of {of}" is not understood'
        raise QuantityError(problem, f"write {DRAG_EXAMPLES}")
    pace = _pace(amount)
    if pace:
        return "pace", *pace
    if is_kind(amount, AREA):
        return "area", read(amount, AREA), amount
    if is_kind(amount, FORCE) or is_kind(amount, MASS):
        # "30 g" is refused here, and the message says how to write grams of drag.
        return "force", read(amount, FORCE), amount
    if "%" in amount and is_kind(amount, RATIO):
        remedy = f'write "{amount} of power" or "{amount} of CdA"; the two differ'
        raise QuantityError(_of_what(words, read(amount, RATIO)), remedy)
    if is_kind(amount, POWER):
        return "power", read(amount, POWER), amount
    raise QuantityError(f'"{words}" is not a change of drag', f"write {DRAG_EXAMPLES}")


def _pace(amount: str) -> tuple[float, str] | None:
    """Seconds a metre, and the text of the seconds; None if it is no such thing."""
    seconds, mark, length = tidy(amount).replace(" per ", "/").partition("/")
    # A time has no sign, but what costs time has one.
    sign, seconds = (-1.0, seconds[1:]) if seconds[:1] == "-" else (1.0, seconds.lstrip("+"))
    length = length.strip()
    whole = length if length[:1].isdecimal() else f"1 {length}"
    if not (mark and is_kind(seconds, TIME) and is_kind(whole, LENGTH)):
        return None
    return sign * read(seconds, TIME) / read(whole, LENGTH), seconds


def _half_digit(number: str) -> float:
    written = Decimal(split_digits(number, "a number", "4.5 W")[0])
    if not written:
        return 0.0
    last = Decimal(1).scaleb(int(written.as_tuple().exponent))
    return float(abs(Decimal("0.5") * last / written))
