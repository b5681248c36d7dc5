"""What an answer on a race rests on."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from racecalc.answers.cells import naming, quoted, several
from racecalc.answers.sheet import Line, Lines, Sheet, grounds
from racecalc.decisions.explain import ExplainedStep, explain_ride
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import Overlap
from racecalc.decisions.weather import Day, stated_day, unsafe
from racecalc.domain.course import CourseReport
from racecalc.domain.race import Race
from racecalc.files.race_keys import short_name
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, show
from racecalc.written import HIDDEN

if TYPE_CHECKING:
    from racecalc.decisions.money import CostOfUse

RIDE_SAFELY = (
    "An estimate, not a promise, and no target: traffic, road surface, weather, law and your"
    " own skill decide how fast to descend and corner."
)


@dataclass(frozen=True)
class Basis:
    """What every answer on a race rests on."""

    race: str
    """Its name."""
    use: tuple[str, ...]
    """Options in use: every answer starts from them."""
    no_options_time_s: float
    """Time with none of them, at one power all along [s]."""
    course: CourseReport
    """What was done to the points of the course file."""
    warnings: tuple[str, ...]
    """What makes the answer less sure."""
    assumptions: tuple[str, ...]
    """The defaults in force, each with its source."""
    by_source: Annotated[tuple[str, ...], HIDDEN]
    """The same, one line for each source."""
    day: Annotated[Day, HIDDEN]
    """The weather of its file."""
    unsafe: Annotated[Mapping[str, str], HIDDEN]
    """Options in use that this weather forbids, and why."""
    ride: Annotated[ExplainedStep, HIDDEN]
    """How the race is ridden."""

    @classmethod
    def of(cls, base: Ridden, warnings: Sequence[str] = ()) -> "Basis":
        """The basis of a race, with what else makes the answer less sure."""
        race = base.race
        told = [str(notice) for notice in race.notices if notice.warning]
        assumed = tuple(map(str, race.assumptions))
        lines = tuple(assumption_lines(race))
        heeded = (*told, *warnings)
        bare, report, day = base.bare.time, _with_seconds(base), stated_day(race)
        used = [one for one in race.single_options if one.name in race.use]
        dangers = {one.name: danger for one in used if (danger := unsafe(one, day))}
        ride = explain_ride(base)
        return cls(race.name, race.use, bare, report, heeded, assumed, lines, day, dangers, ride)

    @property
    def title(self) -> str:
        """The name of the race, for a headline that fits a line."""
        return one_line(self.race, most=34)

    def with_use(self, sheet: Sheet) -> Sheet:
        """The sheet with what is in use below its headline."""
        if not self.use:
            return sheet
        dangers = [(quoted(name), f" is in use: {why}.") for name, why in self.unsafe.items()]
        line = (
            "In use: ",
            *several(self.use, 3),
            f"; without any option the time is {show_duration(self.no_options_time_s)}.",
        )
        return replace(sheet, blocks=[Lines([*dangers, line]), *sheet.blocks])

    def blocks(self, units: System, caution: str = RIDE_SAFELY) -> tuple[Lines, ...]:
        """All of it at the end of a sheet."""
        return (
            grounds(course_lines(self.course, units), "Course"),
            grounds(self.by_source, "Assumed, because the race file does not say"),
            grounds([caution]),
        )


def _with_seconds(base: Ridden) -> CourseReport:
    """What was done to the course, with what taking out noise that hangs together is worth."""
    race, course = base.race, base.race.course
    if course.height_in_doubt is None:
        return course.report
    other = replace(course, elevation=course.elevation + course.height_in_doubt)
    more = base.variant(replace(race, course=other)).time - base.time
    said = f"With the heights smoothed less the time would be {more:+.0f} s."
    return replace(course.report, notes=(*course.report.notes, said))


def costs_line(uses: Iterable["CostOfUse"]) -> str:
    """For which races all costs on a page are counted, and how; empty where nothing is paid for."""
    paid = [use for use in uses if use.paid]
    if not paid:
        return ""
    races = "one race" if paid[0].races_counted == 1 else f"{paid[0].races_counted} races"
    if not paid[0].races_stated:
        return (
            f"Costs are for {races}, as races_a_season is not stated: price less resale, or hire."
        )
    known = " (if stated)" if any(use.lacking for use in paid) else ""
    return f"Costs are for {races}: price less resale over its life{known}, or hire."


def assumption_lines(race: Race) -> Iterator[str]:
    """The defaults in force, one line for each source."""
    by_source: dict[str, list[str]] = {}
    for one in race.assumptions:
        by_source.setdefault(one.source, []).append(f"{short_name(one.key)} {one.value}")
    yield from (f"{', '.join(values)} ({source})" for source, values in by_source.items())


def overlap_line(untested: Iterable[Sequence[str]], told: Overlap | None) -> Iterator[Line]:
    """What of a set was not tested together, and how far its savings may fail to add up."""
    names = [" with ".join(part) for part in untested]
    if told is None:
        yield from naming("Not tested together, so their savings may overlap: ", names, 2)
        return
    count = len(told.tests)
    sets = "one tested set" if count == 1 else f"{count} tested sets"
    guess = f"; they may miss their sum by {100 * told.share:.0f} % (a guess, from {sets})."
    yield from naming("Not tested together: ", names, 2, guess)


def course_lines(report: CourseReport, units: System) -> Iterator[Line]:
    """What was done to the points of the course file, a sentence each."""
    if report.points_read <= 2 and not report.notes:
        return
    dropped = [f"{count} dropped ({reason})" for reason, count in report.dropped.items()]
    counts = [f"{report.points_read} points read, {report.points_kept} kept", *dropped]
    yield f"{report.source}: {', '.join(counts)}."
    if report.pauses:
        yield f"Pauses of {report.paused_time:.0f} s in all were taken out."
    for gap in report.gaps:
        yield (
            f"There are no points for {show(gap.length_m, 'length', units, 0)} from"
            f" {show(gap.from_m, 'course_distance', units)} on; a straight line is used there."
        )
    if report.noise:
        origin = "as given" if report.noise_given else "estimated from the file"
        yield (
            f"Elevation noise of {show(report.noise, 'length', units, 2)} ({origin}) was smoothed"
            f" away: rise {show(report.ascent_before, 'elevation', units)} before,"
            f" {show(report.ascent_after, 'elevation', units)} after."
        )
    yield from report.notes
