"""``racecalc measure``: from ride recordings to a table of runs."""

from collections.abc import Callable, Iterator

import numpy as np

from racecalc.answers.cells import Cell, file_name, quoted
from racecalc.answers.columns import Column, Made, Number, Quantity, Words
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table, details, grounds
from racecalc.decisions.evidence.chances import t_point
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.measuring.crossing import Loop
from racecalc.decisions.measuring.measure import days_behind
from racecalc.decisions.measuring.measured import (
    MeasuredLap,
    MeasuredRun,
    Picture,
    SessionScatter,
    TestDay,
)
from racecalc.decisions.verdicts import interval_of
from racecalc.domain.race import Race
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line

SAFELY = (
    "Law and traffic come first: test on a track or a quiet road, visible, with a lookout; look up."
)

METHOD = (
    "Each run is one energy balance over its whole laps (terms of Martin et al. 1998): work of the"
    " pedals less drivetrain, tyres, bearings, speed gained and height gained, over what each m^2"
    " of drag area takes. A closed lap and a way there and back end as high as they begin, so no"
    " barometer is used.",
    "The wind is never fitted: slope and head wind look alike on a lap. It is taken as stated, or"
    " from a sensor of the air speed whose scale is found over all closed laps of a session.",
    "Standard error of a run: the scatter of laps within the runs of its session, for the road it"
    " covers; or the scatter of runs of one item, where it is more than laps foretell or the air"
    " speed is sensed.",
    "Places: where the energy that nothing explains, over 100 m, is far from that of the other laps"
    " at the same place, the whole lap is left out, since the rest of a lap no longer closes.",
)

DIFFERENCES = (
    "What all runs share does not change which item is faster; racecalc trial takes the doubt of a"
    " difference from the scatter of the runs."
)


RIDE = (
    "The interval holds the scatter of laps and the doubts of power, Crr, wheel, air and wind. A"
    " ride is no test: traffic, shelter and positions that change are not all in it."
)


def measure_sheet(day: TestDay, *, picture: bool = False) -> Sheet:
    """The drag area of each run; what is left out, what to distrust, and what all runs share.

    The picture of the ride is in the details, or where it is asked for in the answer.
    """
    faults = [*_left_out(day)]
    depth = Depth.ANSWER if picture else Depth.DETAILS
    distrust: list[Line] = [*day.distrust, *_distrust(day)]
    return Sheet(
        _headline(day),
        [
            Table("", _columns(day), day.runs, "", Depth.ANSWER, 10, path="runs"),
            Lines([*_found(day)]),
            Lines(faults, "Left out", most=3),
            Lines(distrust, "Distrust", most=3),
            Lines([_shared(day), SAFELY]),
            *(_drawn(one, depth, several=len(day.pictures) > 1) for one in day.pictures),
            *_tables(day),
            details([DIFFERENCES]),
            grounds(METHOD, "How it is measured"),
        ],
        explained=lambda: _explained(day),
    )


def _explained(day: TestDay) -> Iterator[ExplainedStep]:
    first = day.runs[0]
    error = first.standard_error_m2
    return explained(
        "measure",
        area=first.cda_m2,
        power=first.power_w,
        speed=3.6 * first.speed_m_s,
        density=first.density_kg_m3,
        laps=len(first.laps),
        error="not known" if error is None else f"{error:.4f} m^2",
        runs=len(day.runs),
        sessions=len(day.sessions),
        shared=100.0 * day.shared_share,
        doubts=", ".join(f"{one.what} {one.doubt}" for one in day.shared[:4]),
    )


def rides_behind(race: Race) -> Iterator[Block]:
    """The rides behind each test of a race with their runs marked, and what is left out of them."""
    for day in days_behind(race):
        several = len(day.pictures) > 1
        yield from (_drawn(one, Depth.DETAILS, several=several) for one in day.pictures)
        yield details([*_left_out(day)], f"Left out of the rides of {file_name(day.source).text}")


def _of_ride(day: TestDay, loop: Loop) -> Line:
    """The drag area that an ordinary ride tells."""
    [run] = day.runs
    known = run.absolute_95_m2(day)
    ends = "?" if known is None else f"{known[0]:.3f} to {known[1]:.3f}"
    area = Cell(f"CdA {run.cda_m2:.3f} ({ends}) m^2", "strong", run.cda_m2, "runs/0/cda_m2")
    where = (
        f" by {run.counted} laps of {loop.length / 1000:.2f} km, from km {loop.start / 1000:.1f}"
    )
    return file_name(day.source), ": ", area, where


def _headline(day: TestDay) -> Line:
    if day.loop is not None:
        return _of_ride(day, day.loop)
    good = [run for run in day.runs if not run.excluded]
    items = dict.fromkeys(run.item for run in day.runs)
    count = Cell(f"{len(good)} runs of {len(items)} items measured", "strong")
    if len(good) < len(day.runs):
        return file_name(day.source), ": ", count, f", {len(day.runs) - len(good)} left out"
    return file_name(day.source), ": ", count


def _columns(day: TestDay) -> list[Column | None]:
    riders = any(run.rider for run in day.runs)
    sessions = len({run.session for run in day.runs}) > 1
    return [
        Words("session", "session") if sessions else None,
        Words("run", "order"),
        Words("rider", "rider") if riders else None,
        Words("item", "item"),
        Number("laps", "counted", form=".0f"),
        Quantity("", "power_w", what="power"),
        Quantity("", "speed_m_s", what="speed"),
        Quantity("", "density_kg_m3", what="density"),
        Made("CdA m^2 (95 %)", "cda_m2", lambda run: _cda(run, day)),
        Number("out s", "left_out_s", form=".0f"),
    ]


def screen_columns(excluded: Callable[[MeasuredRun], str]) -> list[Column]:
    """The runs of a day for the screen, with why a run or laps of it do not count."""

    def why(run: MeasuredRun) -> str:
        laps = ", ".join(str(lap.lap) for lap in run.laps if lap.left_out)
        because = next((lap.left_out for lap in run.laps if lap.left_out), "")
        return excluded(run) or (f"without lap {laps}: {because}" if laps else "")

    return [
        Made("counts", "", lambda run: "no" if excluded(run) else "yes", left=True),
        Words("run", "order"),
        Words("item", "item"),
        Number("laps", "counted", form=".0f"),
        Number("CdA m^2", "cda_m2", form=".4f"),
        Made("left out", "", lambda run: quoted(why(run)) if why(run) else "", left=True),
        Column("recording", "recording", text=file_name, left=True),
    ]


def _cda(run: MeasuredRun, day: TestDay) -> str:
    if run.excluded:
        return f"({run.cda_m2:.4f})"
    known = run.within_95_m2(day.sessions)
    ends = "?" if known is None else f"{known[0]:.4f} to {known[1]:.4f}"
    return f"{run.cda_m2:.4f} ({ends})"


def _found(day: TestDay) -> Iterator[Line]:
    """What was found besides the drag areas."""
    if day.crr is not None:
        low, high = interval_of(day.crr.crr, day.crr.standard_error, t_point(day.crr.df, 0.975))
        crr = Cell(f"{day.crr.crr:.5f}", "strong", day.crr.crr, "crr/crr")
        yield "Crr found with the drag areas: ", crr, f" ({low:.5f} to {high:.5f})."
    if day.wheel is not None:
        size = "large" if day.wheel > 1 else "small"
        off = Cell(f"{100 * abs(day.wheel - 1):.2f} %", "strong")
        yield "By the stated lap the wheel size set is ", off, f" too {size}; speeds are corrected."
    for one in day.sessions:
        if one.air_speed_factor is not None:
            name = (" in ", quoted(one.session, 20)) if one.session else ()
            factor = Cell(f"{one.air_speed_factor:.3f}", "strong")
            yield "The air-speed sensor reads ", factor, " of the air speed", *name, "."


def _drawn(one: Picture, depth: Depth, *, several: bool) -> Curves:
    """Power and speed over the ride, runs and what is left out marked by signs."""
    clock = [f"{_clock(run.start_min)} to {_clock(run.end_min)}" for run in one.runs]
    runs = [f"{run.order} from {at}" for run, at in zip(one.runs, clock, strict=True)]
    foot = float(np.min(one.power))
    return Curves(
        one.minutes,
        {"power [W]": one.power, "speed [km/h]": 3.6 * one.speed},
        f"Runs: {', '.join(runs)}.",
        across="min",
        marks=[
            *((run.start_min, one_line(run.order, 8)) for run in one.runs),
            *((run.end_min, "") for run in one.runs),
        ],
        points=[
            (at, foot, "x")
            for lap in one.laps_out
            for at in one.minutes[
                (one.minutes >= lap.start_min) & (one.minutes <= lap.end_min)
            ].tolist()
        ],
        title="The ride and its runs" + (f", {one_line(one.session, 30)}" if several else ""),
        note="A run begins at ':' below its order and ends at '|'. x: laps left out.",
        depth=depth,
    )


def _clock(minutes: float) -> str:
    return show_duration(60.0 * minutes)


def _left_out(day: TestDay) -> Iterator[Line]:
    for run in day.runs:
        if run.excluded:
            yield *_name(run), ": ", quoted(run.excluded), "."
            continue
        for lap in run.laps:
            if lap.left_out:
                yield *_name(run), f", lap {lap.lap}: {lap.left_out}."


def _distrust(day: TestDay) -> Iterator[Line]:
    """What is said of runs, once for all of which it is said."""
    by_words: dict[str, list[MeasuredRun]] = {}
    for run in day.runs:
        for words in run.distrust:
            by_words.setdefault(words, []).append(run)
    for words, runs in by_words.items():
        if len(runs) == len(day.runs):
            yield f"All runs: {words}"
        elif len(runs) > 1:
            yield *_name(runs[0]), f" and {len(runs) - 1} more: {words}"
        else:
            yield *_name(runs[0]), f": {words}"


def _name(run: MeasuredRun) -> tuple[str | Cell, ...]:
    session = (" of ", quoted(run.session, 20)) if run.session else ()
    return "Run ", quoted(run.order, 20), " (", quoted(run.item, 30), ")", *session


def _shared(day: TestDay) -> Line:
    if day.loop is not None:
        return RIDE
    parts = sorted(day.shared, key=lambda one: -one.share)
    most = parts[0]
    share = Cell(f"{100 * day.shared_share:.1f} %", "strong", day.shared_share, "shared_share")
    return (
        "The intervals are from the scatter of laps. On top of them a doubt of ",
        share,
        f" that all runs share, most of it by {most.what} ({most.doubt}): it moves them alike, and"
        " a difference by that share of itself.",
    )


def _tables(day: TestDay) -> Iterator[Table]:
    yield Table(
        "What all runs share",
        [
            Words("of", "what"),
            Words("doubt taken", "doubt"),
            Made("means % of CdA", "share", lambda one: f"{100 * one.share:.1f}"),
        ],
        day.shared,
        path="shared",
    )
    yield Table(
        "Scatter, in m^2",
        [
            Made("session", "", lambda one: quoted(one.session) if one.session else "-", left=True),
            Number("by laps", "lap_error_m2", form=".5f"),
            Number("of runs", "run_sd_m2", form=".5f"),
            Made("J per 100 m", "place_scatter_j", _places),
        ],
        day.sessions,
        "By laps: what the laps foretell for runs. Of runs: how far runs of one item differ. J per"
        " 100 m: energy at one place that differs from lap to lap, 40 when calm, 100 in a light"
        " wind; above 150 wait for calmer air.",
        path="sessions",
    )
    rows = [(run, lap) for run in day.runs for lap in run.laps]
    yield Table("Lap by lap", _lap_columns(), rows)


def _places(one: SessionScatter) -> str:
    return "?" if one.place_scatter_j is None else f"{one.place_scatter_j:.0f}"


def _lap_columns() -> list[Column]:
    def of_lap(heading: str, text: str) -> Made:
        def shown(row: tuple[MeasuredRun, MeasuredLap]) -> str:
            return text.format(row[1])

        return Made(heading, "", shown)

    return [
        Made("run", "", lambda row: quoted(row[0].order), left=True),
        Made("item", "", lambda row: quoted(row[0].item), left=True),
        of_lap("lap", "{0.lap}"),
        of_lap("s", "{0.duration_s:.1f}"),
        of_lap("W", "{0.power_w:.0f}"),
        of_lap("CdA m^2", "{0.cda_m2:.4f}"),
        Made("left out", "", lambda row: "yes" if row[1].left_out else "", left=True),
    ]
