"""What a test day is measured with, and what is found; as a table and as the runs of a trial."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import t_point
from racecalc.decisions.measuring.balance import CrrFit, Energy, Setup
from racecalc.decisions.measuring.crossing import Loop
from racecalc.decisions.verdicts import NORMAL_95
from racecalc.domain.race import Air
from racecalc.domain.run_sheet import RunSheet, RunWords
from racecalc.domain.trial import ONE_SESSION, Runs
from racecalc.files.recordings import Wanted
from racecalc.written import HIDDEN

# --- What is asked, and what is found ------------------------------------------------------------


@dataclass(frozen=True)
class Doubts:
    """Standard uncertainties that all runs share; the defaults are our choice where no source."""

    power: float = 0.032
    """Share of the power: between 54 meters, Maier et al. 2017, Int J Sports Med 38:456-461."""
    speed: float = 0.003
    """Share of the speed, from the wheel size set."""
    density: float = 0.005
    """Share of the air density: 1 K and 3 hPa."""
    crr: float = 0.10
    """Share of the rolling resistance."""
    efficiency: float = 0.005
    """Of the share of power that reaches the road."""
    mass: float = 0.5
    """Of all that rolls [kg]."""
    lap: float = 0.001
    """Share of the length of a lap: the line ridden is not the one measured."""


@dataclass(frozen=True)
class Asked:
    """What a test day is measured with."""

    sheet: RunSheet
    setup: Setup
    air: Air | None = None
    """Where the sheet states none; at its own altitude."""
    wanted: Wanted = field(default_factory=Wanted)
    """Fields of the sensors."""
    ahead: float | None = None
    """How far the clock of the sheet is ahead of that of the recordings [s]."""
    lap_length: float | None = None
    """Length of a lap, or of a way there and back, as measured on the road [m]."""
    keep: bool = False
    """Whether laps stay in that differ from the others at one place."""
    doubts: Doubts = Doubts()
    find_crr: bool = False
    """Whether Crr is found together with the drag areas."""
    fit_wheel: bool = False
    """Whether the wheel size is found from the length of a lap."""
    loop: Loop | None = None
    """Of an ordinary ride, not of a test."""


@dataclass(frozen=True)
class MeasuredLap:
    """One lap, or one way there and back."""

    lap: int
    """In its run, from 1."""
    cda_m2: float
    """Drag area of the lap alone [m^2]."""
    duration_s: float
    power_w: float
    """Its length [s] and mean power at the meter [W]."""
    left_out: str
    """Why it does not count; empty where it does."""


@dataclass(frozen=True, kw_only=True)
class MeasuredRun(RunWords):
    """One run."""

    recording: str
    """Its file."""
    cda_m2: float
    """Drag area: work against the air over that for 1 m^2, of all laps that count [m^2]."""
    standard_error_m2: float | None
    """By the scatter of laps within the runs of its session, or by that of the runs where it is
    more and either proved so or told by a sensor of the air speed [m^2]; None where neither is
    known.
    """
    power_w: float
    """Mean power at the meter [W]."""
    speed_m_s: float
    """Cube root of the mean cube of the speed [m/s]."""
    density_kg_m3: float
    """Of the air [kg/m^3]."""
    wind_m_s: float | None
    """At the rider, as stated [m/s]; None where not stated."""
    yaw_deg: float | None
    """Mean size of the yaw, by the stated wind or the sensor [deg]; None where not known."""
    left_out_s: float
    """Riding time of the laps left out [s]."""
    bridged_s: float
    """Seconds without power or speed that were bridged from those next to them [s]."""
    air_share: float
    rolling_share: float
    """Shares of the work at the road that went against the air and into tyres and bearings."""
    laps: tuple[MeasuredLap, ...]
    """In order."""
    excluded: str
    """Why the run does not count; empty where it does."""
    note: str
    """The tester's own words."""
    distrust: tuple[str, ...]
    """What may make it wrong, in sentences."""
    energy: Annotated[Energy, HIDDEN]
    place: Annotated[str, HIDDEN]
    line: Annotated[int, HIDDEN]
    """Of the sheet."""

    @property
    def counted(self) -> int:
        """Laps that count."""
        return sum(not lap.left_out for lap in self.laps)

    def within_95_m2(self, sessions: Iterable["SessionScatter"]) -> tuple[float, float] | None:
        """The 95 % interval of the drag area by the scatter of its session [m^2]; None if unknown.

        By Student's t; what all runs share is not in it.
        """
        half = self._half(sessions)
        return None if half is None else (self.cda_m2 - half, self.cda_m2 + half)

    def absolute_95_m2(self, day: "TestDay") -> tuple[float, float] | None:
        """The same with what all runs share added in square [m^2]."""
        half = self._half(day.sessions)
        if half is None:
            return None
        whole = float(np.hypot(half, NORMAL_95 * day.shared_share * self.cda_m2))
        return self.cda_m2 - whole, self.cda_m2 + whole

    def _half(self, sessions: Iterable["SessionScatter"]) -> float | None:
        own = next(
            (one for one in sessions if (one.session, one.rider) == (self.sitting, self.rider)),
            None,
        )
        if own is None or not own.df or self.standard_error_m2 is None:
            return None
        return t_point(own.df, 0.975) * self.standard_error_m2


@dataclass(frozen=True)
class SessionScatter:
    """How far runs of one item differ in a session, next to what their laps foretell."""

    session: str
    """With its day where the sheet names both."""
    rider: str
    lap_error_m2: float | None
    """Root mean square of the standard errors by laps [m^2]."""
    lap_df: int
    """Laps behind it, less one for each run."""
    run_sd_m2: float | None
    """Standard deviation of runs of one item [m^2]; None without two of any."""
    run_df: int
    """Runs behind it, less one for each item."""
    more_than_laps: bool
    """Whether runs differ more than their laps foretell (F test at 5 %)."""
    place_scatter_j: float | None
    """Energy at the same 100 m of road that differs from lap to lap [J]; None with few laps."""
    air_speed_factor: float | None
    """What a sensor of the air speed reads over the true air speed; None without one."""
    sensed_wind_m_s: float | None = None
    """Wind that it met: root mean square of the head wind, for all directions alike [m/s]."""

    @property
    def df(self) -> int:
        """Degrees of freedom of the standard errors of its runs."""
        sensed = self.air_speed_factor is not None
        return self.run_df if self.more_than_laps or (sensed and self.run_df) else self.lap_df


@dataclass(frozen=True)
class Shared:
    """A doubt that all runs share."""

    what: str
    """Of what."""
    doubt: str
    """How much of it is taken, in words."""
    share: float
    """Share of the drag area that it means, one standard uncertainty."""


@dataclass(frozen=True)
class Marked:
    """A run or a lap in a picture."""

    order: str
    start_min: float
    end_min: float
    """[min]."""
    left_out: bool


@dataclass(frozen=True, eq=False)
class Picture:
    """The recordings of a session end to end, with their runs marked; arrays of shape (n,)."""

    session: str
    minutes: FloatArray
    """Since the beginning, without what lies between two recordings [min]."""
    power: FloatArray
    """[W]."""
    speed: FloatArray
    """[m/s]."""
    runs: tuple[Marked, ...]
    laps_out: tuple[Marked, ...]
    """Laps that are left out."""


@dataclass(frozen=True)
class TestDay:
    """All runs of a test day."""

    __test__ = False
    source: str
    """The sheet, as the user gave it."""
    runs: tuple[MeasuredRun, ...]
    """In the order of the sheet."""
    sessions: tuple[SessionScatter, ...]
    """Scatter by session and rider."""
    shared: tuple[Shared, ...]
    """What all runs share: it moves every drag area alike, and hardly a difference of two items."""
    shared_share: float
    """Root of the sum of their squares."""
    distrust: tuple[str, ...]
    """What may make the day wrong, in sentences."""
    heading: Annotated[tuple[str, ...], HIDDEN]
    pictures: Annotated[tuple[Picture, ...], HIDDEN] = ()
    """One a session."""
    crr: CrrFit | None = None
    """The Crr found from two efforts; None where it was stated."""
    wheel: float | None = None
    """Wheel size set over the true one, found from a lap; None where it was not asked for."""
    loop: Annotated[Loop | None, HIDDEN] = None
    """Of an ordinary ride, not of a test."""


# --- Handed on -----------------------------------------------------------------------------------


def runs_of(day: TestDay) -> Runs:
    """The runs as `racecalc trial` reads them from their table, without its rounding."""
    every = day.runs
    try:
        order = np.array([float(run.order) for run in every])
    except ValueError:
        order = np.arange(1.0, len(every) + 1.0)
    return Runs(
        source=day.source,
        measure="cda",
        item=tuple(run.item for run in every),
        rider=tuple(run.rider for run in every),
        session=tuple(run.sitting or ONE_SESSION for run in every),
        day=tuple(run.day or run.session or ONE_SESSION for run in every),
        order=order,
        value=np.array([run.cda_m2 for run in every]),
        speed=np.array([run.speed_m_s for run in every]),
        density=np.array([run.density_kg_m3 for run in every]),
        yaw=np.full(len(every), np.nan),
        note=tuple(run.note for run in every),
        line=tuple(run.line for run in every),
        excluded=tuple(run.excluded for run in every),
        mounting=tuple(run.mounting for run in every),
    )


def rows_of(day: TestDay) -> list[list[str]]:
    """The runs as a table that `racecalc trial` reads, the heading first."""
    rows = [{**{name: run.words[name] for name in day.heading}, **_cells(run)} for run in day.runs]
    return [[*rows[0]], *([*row.values()] for row in rows)]


def _cells(run: MeasuredRun) -> dict[str, str]:
    """Cells of a run by their heading."""
    error, yaw = run.standard_error_m2, run.yaw_deg
    return {
        "order": run.order,
        "item": run.item,
        "cda [m^2]": f"{run.cda_m2:.5f}",
        "standard error [m^2]": "" if error is None else f"{error:.5f}",
        "speed [km/h]": f"{3.6 * run.speed_m_s:.2f}",
        "mean power [W]": f"{run.power_w:.1f}",
        "density [kg/m^3]": f"{run.density_kg_m3:.4f}",
        "yaw [deg]": "" if yaw is None else f"{yaw:.1f}",
        "laps": str(run.counted),
        "left out [s]": f"{run.left_out_s:.0f}",
        "excluded": run.excluded,
        "note": run.note,
    }
