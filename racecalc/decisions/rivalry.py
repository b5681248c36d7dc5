"""Who rides against whom: the rivals of a results list, and the athlete's own time among them."""

from dataclasses import dataclass

from racecalc.decisions.doubt import time_band
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import model_error
from racecalc.errors import InputError
from racecalc.files.race_values import nearest
from racecalc.files.results_table import Finisher, ResultsTable
from racecalc.quantities.numerals import quoted

PODIUM = 3


@dataclass(frozen=True)
class Field:
    """The rivals.

    Parameters
    ----------
    source : str
        The list they stand in.
    names : tuple of str
        One for each time.
    times : tuple of float
        Ascending [s].
    spread : float
        Standard deviation of each rival's time from day to day [s]; 0 takes them as they stand.
    category : str
        The category that they ride in; "" where all count.
    unplaced : tuple of str
        For each rider without a time, why.
    notes : tuple of str
        What looks like a slip in the list.
    """

    source: str
    names: tuple[str, ...]
    times: tuple[float, ...]
    spread: float = 0.0
    category: str = ""
    unplaced: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def named(self, time: float) -> tuple[str, ...]:
        """Names of the rivals with that very time."""
        return tuple(
            name for name, other in zip(self.names, self.times, strict=True) if other == time
        )


@dataclass(frozen=True)
class Own:
    """The athlete without any option.

    Parameters
    ----------
    time : float
        [s].
    doubt : float
        Standard uncertainty of `time` [s].
    listed_as : str
        Name in the list; "" where the time is that predicted for the race file.
    doubt_from : tuple of str
        What the doubt comes from, in plain words.
    """

    time: float
    doubt: float = 0.0
    listed_as: str = ""
    doubt_from: tuple[str, ...] = ()


@dataclass(frozen=True)
class Goals:
    """What the athlete may aim at.

    Parameters
    ----------
    podium : int
        How many places count as the podium.
    target : float or None
        A time that is to be reached [s].
    """

    podium: int = PODIUM
    target: float | None = None


def predicted(base: Ridden) -> Own:
    """The time predicted for a race, in doubt by the model and by what the race file states."""
    if not base.race.doubts.stated:
        return Own(base.time, model_error(base))
    band = time_band(base)
    causes = tuple(cause.words for cause in band.causes if cause.name != "model")
    return Own(base.time, band.spread.standard_deviation_s, doubt_from=causes)


def listed(results: ResultsTable, name: str, category: str = "") -> Own:
    """The athlete's own time in a list; what was ridden is in no doubt.

    Raises
    ------
    InputError
        If the list has no such name, or no time for it, or another category.
    """
    me = next((one for one in results.finishers if one.name == name), None)
    if me is None:
        raise _not_listed(results, name)
    if category and me.category != category:
        raise InputError(
            "--category",
            f"{quoted(name)} rides in {quoted(me.category)}, not in {quoted(category)}",
            "name that category, or leave --category out",
        )
    return Own(me.time, listed_as=name)


def _not_listed(results: ResultsTable, name: str) -> InputError:
    for one in results.unplaced:
        if one.name == name:
            return InputError(
                "--me",
                f"{quoted(name)} has no time in {results.source} ({one.why})",
                "leave --me out to place the time predicted for the race file",
            )
    names = [one.name for one in results.riders]
    return InputError(
        "--me",
        f"{quoted(name)} is not in {results.source}",
        nearest(name, names, "write the name as it stands there"),
    )


def rivals(results: ResultsTable, me: str = "", category: str = "", spread: float = 0.0) -> Field:
    """Everybody in a list but the athlete.

    Parameters
    ----------
    results : ResultsTable
        The list.
    me : str
        Name of the athlete if they stand in it.
    category : str
        The category that counts alone.
    spread : float
        Standard deviation of each rival's time [s].

    Raises
    ------
    InputError
        If the list has no such category, or nobody else has a time.
    """
    if category:
        _refuse_unknown(results, category)
    others = [one for one in results.finishers if one.name != me and _in(one, category)]
    if not others:
        where = f" in the category {quoted(category)}" if category else ""
        raise InputError(
            results.source, f"nobody else has a time{where}", "give a list with rivals in it"
        )
    return Field(
        source=results.source,
        names=tuple(one.name for one in others),
        times=tuple(one.time for one in others),
        spread=spread,
        category=category,
        unplaced=tuple(
            one.why for one in results.unplaced if not category or one.category == category
        ),
        notes=results.notes,
    )


def _in(rider: Finisher, category: str) -> bool:
    return not category or rider.category == category


def _refuse_unknown(results: ResultsTable, category: str) -> None:
    known = list(dict.fromkeys(one.category for one in results.riders if one.category))
    if category not in known:
        raise InputError(
            "--category",
            f"{quoted(category)} is no category of {results.source}",
            f"known are {', '.join(known)}" if known else "the list states none; leave it out",
        )
