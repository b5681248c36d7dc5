"""An hourly forecast as a CSV table: to plain columns in SI, each row with its line."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError, Notice
from racecalc.files.key import Key
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import check_range
from racecalc.files.table import Table, read_table
from racecalc.quantities.direction import read_direction
from racecalc.quantities.kinds import ANGLE, Kind
from racecalc.quantities.reading import QuantityError

AIR_KEYS = RACE_KEYS["air"]

WEATHER = ("temperature", "sea_level_pressure", "pressure", "humidity", "dew_point")
"""Columns that take the place of the key of the race file of the same name."""

GUST = replace(AIR_KEYS["wind_speed"], meaning="strongest gust", plausible=None)
"""A gust has the possible range of a wind; whether it can be ridden in is judged elsewhere."""

COLUMNS = ("time", "wind_speed", "wind_from", *WEATHER, "gust")


@dataclass(frozen=True)
class ForecastTable:
    """Columns of a forecast, in the order of the file; NaN where a cell or column is missing.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    line : tuple of int, length n
        Line of each row, from 1.
    time : tuple of str, length n
        When each row holds, as written.
    wind_speed, wind_from : FloatArray, shape (n,)
        Mean wind [m/s] and where it comes from, clockwise from north [rad]; never NaN.
    gust : FloatArray, shape (n,)
        Strongest gust, at the height of the wind [m/s].
    weather : dict of str to FloatArray, shape (n,)
        The columns of `WEATHER` that are there: temperature and dew point [K], pressure [Pa],
        humidity 0 to 1.
    notices : tuple of Notice
        Values that are possible but not plausible, and columns that are not used.
    """

    source: str
    line: tuple[int, ...]
    time: tuple[str, ...]
    wind_speed: FloatArray
    wind_from: FloatArray
    gust: FloatArray
    weather: dict[str, FloatArray]
    notices: tuple[Notice, ...] = ()

    def place(self, row: int) -> str:
        """Return file and line of a row, for messages; rows count from 0."""
        return f"{self.source}, line {self.line[row]}"


def read_forecast(path: Path) -> ForecastTable:
    """Read a forecast.

    Parameters
    ----------
    path : Path
        CSV file with the columns `time`, `wind_speed [m/s]` and `wind_from [deg]`; optionally
        `temperature [degC]`, `sea_level_pressure [hPa]` or `pressure [hPa]`, `humidity [%]` or
        `dew_point [degC]`, and `gust [m/s]`, whose cells may be empty. Without a unit,
        `wind_from` holds points of the compass; in a calm it may be empty.

    Returns
    -------
    ForecastTable
        At least one row.

    Raises
    ------
    InputError
        With line and column, if a heading is missing or doubled, two columns say the same, a
        text or number is missing or impossible, or two rows have one time.
    """
    table = read_table(path)
    _refuse_both(table, "pressure", "sea_level_pressure")
    _refuse_both(table, "humidity", "dew_point")
    notices = [_unused(table)] if _unused_names(table) else []
    wind = _column(table, "wind_speed", AIR_KEYS["wind_speed"], notices, gaps=False)
    read = ForecastTable(
        source=table.source,
        line=table.lines,
        time=_times(table),
        wind_speed=wind,
        wind_from=_directions(table, wind),
        gust=_optional(table, "gust", GUST, notices),
        weather={
            name: _column(table, name, AIR_KEYS[name], notices)
            for name in WEATHER
            if table.has(name)
        },
        notices=tuple(notices),
    )
    _check_rows(table, read)
    return read


def _refuse_both(table: Table, one: str, other: str) -> None:
    if table.has(one) and table.has(other):
        raise InputError(
            table.header_place,
            f"both {one} and {other} are given",
            "keep one of them",
        )


def _unused_names(table: Table) -> list[str]:
    return [column.heading for column in table.columns if column.name not in COLUMNS]


def _unused(table: Table) -> Notice:
    """A misspelt gust must not be left out silently: it may rule out a wheel."""
    names = ", ".join(repr(name) for name in _unused_names(table))
    return Notice(
        table.header_place,
        f"not used: {names}; known columns are {', '.join(COLUMNS)}",
    )


def _times(table: Table) -> tuple[str, ...]:
    texts = table.texts("time")
    empty = np.array([not text for text in texts])
    table.refuse("time", empty, "names no time", "write a clock time, as 14:00, or date and time")
    first: dict[str, int] = {}
    for row, text in enumerate(texts):
        if first.setdefault(text, row) != row:
            raise InputError(
                f"{table.source}, lines {table.lines[first[text]]} and {table.lines[row]}",
                f"both are for {text}",
                "give each row its own time, with the date where the hours repeat",
            )
    return tuple(texts)


def _optional(table: Table, name: str, key: Key, notices: list[Notice]) -> FloatArray:
    if table.has(name):
        return _column(table, name, key, notices)
    return np.full(len(table.rows), np.nan)


def _column(
    table: Table, name: str, key: Key, notices: list[Notice], *, gaps: bool = True
) -> FloatArray:
    if not isinstance(key.form, Kind):
        raise TypeError(f"{name} is no quantity")
    values, texts = table.numbers(name, key.form, gaps=gaps), table.texts(name)
    for row, value in enumerate(values):
        if np.isfinite(value):
            check_range(key, float(value), f"'{texts[row]}'", table.place(row, name), notices)
    return values


def _directions(table: Table, wind: FloatArray) -> FloatArray:
    """Directions [rad]; 0 where it is calm and none is given."""
    texts = table.texts("wind_from")
    calm = np.array([not text for text in texts]) & (wind == 0)
    if table.column("wind_from").unit:
        angles = table.numbers("wind_from", ANGLE, gaps=True)
        missing = np.isnan(angles) & ~calm
        table.refuse("wind_from", missing, "is no direction", "write degrees from north, as 250")
        outside = (angles < 0) | (angles > 2 * np.pi * (1 + 1e-9))
        table.refuse("wind_from", outside, "is outside one turn", "write 0 to 360 deg")
        return np.where(np.isnan(angles), 0.0, angles)
    return np.array(
        [0.0 if calm[row] else _point(table, row, text) for row, text in enumerate(texts)]
    )


def _point(table: Table, row: int, text: str) -> float:
    try:
        return read_direction(text)
    except QuantityError as error:
        remedy = "write the unit in the heading, as in 'wind_from [deg]', or points as 'WSW'"
        raise InputError(table.place(row, "wind_from"), error.problem, remedy) from error


def _check_rows(table: Table, read: ForecastTable) -> None:
    table.refuse(
        "gust",
        read.gust < read.wind_speed,
        "is less than the mean wind of the row",
        "swap the columns, or leave the cell empty",
    )
    weather = read.weather
    if "dew_point" in weather and "temperature" in weather:
        table.refuse(
            "dew_point",
            weather["dew_point"] > weather["temperature"],
            "lies above the temperature of the row",
            "swap the columns?",
        )
