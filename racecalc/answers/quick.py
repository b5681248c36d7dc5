"""``racecalc quick``: a race told in a few words, without a file."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from racecalc.answers.basis import RIDE_SAFELY, Basis
from racecalc.answers.cells import verdict
from racecalc.answers.columns import saved_cell, time_cell, within_95
from racecalc.answers.sheet import Block, Line, Lines, Sheet, grounds
from racecalc.answers.time import assumed_line, tried_table
from racecalc.answers.value import cost_text
from racecalc.decisions.assumed import Tried
from racecalc.decisions.explain import ExplainedStep, explain_air, explain_value
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Rate, Timing, rates, timing
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import interval_of
from racecalc.files.quick_race import QuickRace
from racecalc.quantities.money import amount_text
from racecalc.quantities.showing import System, show
from racecalc.written import HIDDEN, SPREAD, As

WORTH = {"power": "1 W more saves", "mass": "100 g less", "cda": "0.001 m^2 less CdA"}
"""What is told of rates, by their quantity."""


@dataclass(frozen=True)
class QuickAnswer:
    """How long a race takes, what a watt is worth on it, and what a saving."""

    race_file: str
    """The race file that says the same."""
    ridden: Annotated[Ridden, HIDDEN]
    """The race, solved."""
    timed: Annotated[Timing, SPREAD]
    """Its time, and where the watts go."""
    rates: tuple[Rate, ...]
    """What one more unit of each quantity is worth."""
    saving: OptionValue | None
    """What the saving asked about is worth; None where none is."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""
    tried: Annotated[tuple[Tried, ...], As(assumptions_tried="")]
    """What the assumptions mean in seconds, the one that means most first."""

    @classmethod
    def of(
        cls, base: Ridden, saving: OptionValue | None, asked: QuickRace, tried: Sequence[Tried]
    ) -> "QuickAnswer":
        """The answer about a race that was told in words."""
        race = replace(base.race, assumptions=(*asked.assumed, *base.race.assumptions))
        timed, basis = timing(base), Basis.of(replace(base, race=race))
        return cls(asked.text(), base, timed, rates(base), saving, basis, tuple(tried))


def quick_sheet(answer: QuickAnswer, units: System) -> Sheet:
    """The time, what a unit of each quantity is worth, the saving, and what was assumed."""
    timed = answer.timed
    time = time_cell(timed.time_s, "time_s")
    lines = [_worth(answer.rates), *_saving(answer.saving), *_grounds(answer, units)]
    blocks: list[Block] = [Lines(lines), Lines(answer.basis.warnings, "Mind")]
    file = grounds(answer.race_file.split("\n"), "The race file that says the same (--save FILE)")
    basis = answer.basis.blocks(units, RIDE_SAFELY)
    return Sheet(
        (f"{answer.basis.title}: ", time),
        [*blocks, tried_table(answer.tried), *basis, file],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: QuickAnswer) -> tuple[ExplainedStep, ...]:
    saving = explain_value(answer.saving) if answer.saving else ()
    return (answer.basis.ride, *explain_air(answer.ridden, answer.timed), *saving)


def _worth(rates: Sequence[Rate]) -> str:
    known = {one.quantity: one for one in rates}
    worth = (f"{words} {abs(known[one].seconds_per_unit):.1f} s" for one, words in WORTH.items())
    return f"{', '.join(worth)}."


def _saving(value: OptionValue | None) -> Iterator[Line]:
    if value is None:
        return
    option = value.option
    asked = option.saves.words if option.saves else "Its weight alone"
    doubt = "no doubt stated" if value.chance_faster is None else verdict(value.verdict)
    yield f"{asked} saves ", saved_cell(value, "saving/saved_s"), ": ", doubt, "."
    if option.price:
        cost = cost_text(value.cost_of_use)
        at = value.use.at
        each = f"{amount_text(at, option.price.currency)} for each second" if at else "no gain"
        yield f"{cost} for one race: {each}."


def _grounds(answer: QuickAnswer, units: System) -> Iterator[Line]:
    race, timed = answer.ridden.race, answer.timed
    within = within_95(*interval_of(timed.time_s, timed.model_error_s))
    yield f"How sure: {within} if all of this is exact:"
    speed = timed.wind_at_rider_m_s
    wind = f"wind at the rider {show(speed, 'wind_speed', units)}" if speed else "no wind"
    yield (
        f"CdA {race.bike.cda.at_zero_yaw:.3g} m^2, {show(race.total_mass, 'mass', units)} in all,"
        f" Crr {race.bike.crr:.4g}, {show(timed.ascent_m, 'elevation', units)} of climbing, {wind},"
        f" air {show(timed.air_density_kg_m3, 'density', units)}."
    )
    yield assumed_line(answer.tried)
