"""Race files, tables, courses and flags, drawn from what the table of keys allows and beyond it."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import click
import tomlkit
from hypothesis import strategies as st

from racecalc.files.race_keys import LISTS, RACE_KEYS, Key
from racecalc.quantities.kinds import Kind
from racecalc.quantities.reading import read
from racecalc.views.command_line import command

NEEDED = {
    "rider": {"mass": "70 kg", "power": "250 W"},
    "bike": {"mass": "9 kg", "cda": "0.25 m^2", "crr": "0.004"},
    "course": {"distance": "5 km", "step": "50 m"},
}
"""A race that says no more than it must; steps of 50 m make it quick."""

NASTY = st.one_of(
    st.sampled_from(
        [
            *(
                "",
                " ",
                "nan",
                "NaN W",
                "inf W",
                "-inf",
                "1e308 W",
                "5 W at 1e308 km/h",
                "1e-320 kg",
            ),
            *("-0 W", "0 kg", "9" * 400 + " W", "1/0", "0x10 W", "1_000 W", "١٢ W", "5 W W"),
            *("\x1b[2J\x1b]0;title\x07", "\u202e W 005", "a\u0000b", "a\nb", "\r", "\ufeff5 W"),
            *(
                "=1+1",
                "@name",
                "[bold]x[/]",
                "{{ 7*7 }}",
                "<script>",
                "%s%n",
                "../../etc",
                "x" * 5000,
            ),
            *("5 W at", "% of CdA", "at 45 km/h", "3 % of power at 0 W", "0 m^2 at 0 km/h"),
        ]
    ),
    st.text(max_size=30),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.lists(st.text(max_size=5), max_size=3),
    st.fixed_dictionaries({"yaw": st.lists(st.text(max_size=6)), "area": st.lists(st.text())}),
)
"""What nobody means."""

SAVINGS = st.one_of(
    st.floats(-0.05, 0.05).map(lambda area: f"{area:.5f} m^2"),
    st.tuples(st.floats(-40, 40), st.floats(5, 100)).map(
        lambda two: f"{two[0]:.2f} W at {two[1]:.1f} km/h"
    ),
    st.floats(-60, 60).map(lambda share: f"{share:.2f} % of CdA"),
    st.floats(0, 30).map(lambda share: f"{share:.2f} % of power at 250 W"),
)


def _between(bounds: str, kind: Kind) -> st.SearchStrategy[str]:
    low, high = (read(end, kind) for end in bounds.split(" to "))
    return st.floats(low, high).map(lambda value: f"{value:.9g} {kind.unit}".strip())


NAMES = st.text(min_size=1, max_size=12).filter(
    lambda text: text.casefold() not in {"nan", "inf"}  # sought in answers as no numbers
)

IN_WORDS = {
    "life": ("10 races", "2 years", "3000 km", "40 h"),
    "power_loss": ("3 W", "2 %"),
    "otherwise": ("0.001 m^2", "1 W at 40 km/h"),
    "least_gain": ("0 W", "2 W"),
}
"""Values of keys with a grammar of their own."""


def allowed(key: Key) -> st.SearchStrategy[Any]:
    """A value that the table calls possible."""
    choices: list[st.SearchStrategy[Any]] = [st.sampled_from(key.words)] if key.words else []
    if isinstance(key.form, Kind) and key.possible:
        choices += [
            _between(bounds, key.form) for bounds in {key.possible, key.plausible or key.possible}
        ]
    elif key.form == "direction":
        choices.append(st.floats(0, 360).map(lambda angle: f"{angle:.1f} deg"))
    elif key.form == "flag":
        choices.append(st.booleans())
    elif key.form == "count":
        choices.append(st.integers(1, 4))
    elif key.form == "money":
        choices.append(st.integers(0, 10**6).map(lambda amount: f"{amount} EUR"))
    elif key.form == "text":
        choices.append(NAMES)
    return st.one_of(choices) if choices else st.nothing()


NAMED = {"name", "saves", "doubt", "set_of", "round_with"}
HEAVY = {"laps", "step", "distance", "file", "official_length"}
"""Keys of the course that make a race long to solve, or hang on another; drawn otherwise."""


@st.composite
def races(draw: st.DrawFn, beyond: bool = False, most: int = 6) -> dict[str, Any]:
    """A race with up to `most` keys changed; `beyond` what is allowed too."""
    race: dict[str, Any] = {table: dict(keys) for table, keys in NEEDED.items()}
    race["course"]["distance"] = f"{draw(st.floats(0.05, 30)):.3f} km"
    choices = [
        (table, name)
        for table, keys in RACE_KEYS.items()
        for name in keys
        if table not in LISTS and name not in HEAVY
    ]
    for table, name in draw(st.lists(st.sampled_from(choices), max_size=most, unique=True)):
        value = _value(draw, table, name, beyond)
        if value is not None:
            race.setdefault(table, {})[name] = value
    if "air" in race:
        race["air"].setdefault("wind_from", "left")
    options = draw(
        st.lists(options_of(beyond), max_size=3, unique_by=lambda one: one["name"].strip())
    )
    if options:
        race["option"] = options
    return race


def _value(draw: st.DrawFn, table: str, name: str, beyond: bool) -> Any:
    if beyond and draw(st.booleans()):
        return draw(NASTY)
    values = (
        st.sampled_from(IN_WORDS[name]) if name in IN_WORDS else allowed(RACE_KEYS[table][name])
    )
    return None if values.is_empty else draw(values)


def _doubt_of(saving: str) -> str:
    """A doubt in the words of a saving."""
    return "0.001 m^2" if saving.endswith("m^2") else re.sub(r"-?[\d.]+", "0.5", saving, count=1)


FREE = sorted(
    name for name in RACE_KEYS["option"] if name not in NAMED and not name.startswith("trial")
)
"""Keys of an option that need no other file."""


@st.composite
def options_of(draw: st.DrawFn, beyond: bool = False) -> dict[str, Any]:
    """An option: a name and a few of its keys."""
    option: dict[str, Any] = {"name": draw(NAMES)}
    if draw(st.booleans()):
        option["saves"] = draw(NASTY if beyond and draw(st.booleans()) else SAVINGS)
        option["doubt"] = _doubt_of(str(option["saves"]))
    for name in draw(st.lists(st.sampled_from(FREE), max_size=3, unique=True)):
        value = _value(draw, "option", name, beyond)
        if value is not None:
            option[name] = value
    return option


def written(race: Mapping[str, Any]) -> str:
    """The text of a race file; the tables of lists after the others."""
    ordered = sorted(race.items(), key=lambda item: isinstance(item[1], list))
    return tomlkit.dumps(dict(ordered))


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """Bytes of a file with some changed, cut out, or doubled."""
    content = bytearray(whole)
    for _ in range(draw(st.integers(1, 4))):
        where = draw(st.integers(0, max(len(content) - 1, 0)))
        what = draw(st.sampled_from(["flip", "cut", "double", "insert"]))
        if what == "flip" and content:
            content[where] ^= 1 << draw(st.integers(0, 7))
        elif what == "cut":
            del content[where : where + draw(st.integers(1, 200))]
        elif what == "double":
            content[where:where] = content[where : where + draw(st.integers(1, 200))]
        else:
            content[where:where] = draw(st.binary(min_size=1, max_size=8))
    return bytes(content)


ARGUMENTS = {
    **dict.fromkeys(
        ("time", "rates", "value", "breakeven", "basket", "decide", "pace", "weather", "advice"),
        "drawn.toml",
    ),
    "against": "drawn.toml A B",
    "compare": "drawn.toml flat_round.toml",
    "convert": "5W",
    "help": "pacing",
    "measure": "testday.csv testday_race.toml",
    "places": "drawn.toml results.csv",
    "plan": "Old New",
    "quick": "4km 250W 0.25m2 83kg",
    "review": "drawn.toml ridden.csv",
    "set": "drawn.toml rider.power=240W",
    "trial": "suits.csv",
}
"""Every command that ends by itself and writes no other file, with what it needs."""

WORDS = st.sampled_from(
    [
        *("5 W", "-3 W", "4.5 W at 45 km/h", "0.004 m^2", "2 % of CdA", "3 %", "80 kg", "200 g"),
        *(
            "60 s",
            "1:00",
            "59:00",
            "0 s",
            "10 EUR",
            "1e9 EUR",
            "0.004",
            "1.2 kg/m^3",
            "1 m",
            "2 km",
        ),
        *(
            "A",
            "A + B",
            "",
            "all",
            "none",
            "Nobody",
            "rider.power=260 W",
            "2",
            "0.5",
            "-1",
            "1e400",
        ),
    ]
)
"""What a flag that takes text may be given, sense or not."""

WRITING = {"outputs", "output", "out", "file", "folder"}
"""Parameters that name a file to write."""


def _given(flag: click.Option) -> st.SearchStrategy[list[str]]:
    name = max(flag.opts, key=len)
    kind = flag.type
    if flag.is_flag:
        return st.just([name])
    if isinstance(kind, click.Choice):
        values = st.sampled_from([str(one) for one in kind.choices])
    elif isinstance(kind, click.IntRange):
        low = int(kind.min or 0)
        values = st.integers(low, min(int(kind.max or low + 9), low + 200)).map(str)
    elif isinstance(kind, click.FloatRange):
        values = st.floats(-1, 50).map("{:.6g}".format)
    elif isinstance(kind, click.Path):
        values = st.sampled_from(["drawn.toml", "flat_round.toml", "suits.csv", ".", "missing"])
    else:
        values = WORDS | NASTY.map(str) | st.text(max_size=20)
    values = values.map(lambda text: text.replace("\0", ""))  # no argument of a process holds it
    return st.lists(values, min_size=flag.nargs, max_size=flag.nargs).map(
        lambda some: [name, *some]
    )


def flags_of(name: str) -> st.SearchStrategy[list[str]]:
    """Up to three flags of a command, as they are typed."""
    flags = [
        _given(one)
        for one in command(name).params
        if isinstance(one, click.Option) and one.name not in WRITING
    ]
    if not flags:
        return st.just([])
    return st.lists(st.one_of(flags), max_size=3).map(lambda some: [w for one in some for w in one])


COMMANDS = st.sampled_from(sorted(ARGUMENTS)).flatmap(
    lambda name: flags_of(name).map(lambda flags: [name, *ARGUMENTS[name].split(), *flags])
)
"""Whole command lines."""

_ASKED = (
    "time",
    "rates",
    "value",
    "breakeven --mass=200g --price-per-second=5EUR",
    "basket --budget=500EUR",
    "decide --price-per-second=5EUR",
    "pace",
    "weather --forecast=forecast.csv",
    "advice --price-per-second=5EUR",
)
QUESTIONS = st.sampled_from([*_ASKED, *(f"{one} --json" for one in _ASKED)])
"""Questions about a race file alone."""

CHANGES = st.tuples(
    st.sampled_from([f"{t}.{n}" for t, keys in RACE_KEYS.items() if t not in LISTS for n in keys]),
    st.text(max_size=20) | st.sampled_from(["5 W", "0 m", "-3", "1e400", "none", "true", "[]"]),
).map(lambda change: f"--set={change[0]}={change[1]}")


@st.composite
def courses(draw: st.DrawFn) -> str:
    """A recording of a road that climbs and bends, with the faults that recordings have."""
    points, lat, lon, height, clock = [], 46.0, 7.0, 400.0, 0
    for _ in range(draw(st.integers(0, 60))):
        step = draw(st.sampled_from([0.0, 1e-5, 1e-4, 1e-4, 5e-4, 5e-3, -1e-4, 0.5]))
        lat += step
        lon += step * draw(st.sampled_from([0.0, 1.0, -3.0]))
        height += draw(st.sampled_from([0.0, 0.1, -0.2, 1.0, -1.0, 30.0, -9000.0]))
        clock += draw(st.sampled_from([0, 1, 1, 5, 3600, -10]))
        rise = draw(
            st.sampled_from([f"<ele>{height}</ele>"] * 6 + ["", "<ele>nan</ele>", "<ele/>"])
        )
        time = datetime(2026, 5, 1, tzinfo=UTC) + timedelta(seconds=clock)
        points.append(
            f'<trkpt lat="{lat}" lon="{lon}">{rise}<time>{time:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>'
        )
    cuts = sorted(draw(st.lists(st.integers(0, len(points)), max_size=2)))
    for where in reversed(cuts):
        points.insert(where, "</trkseg><trkseg>")
    return (
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="us"><trk><trkseg>'
        f"{''.join(points)}</trkseg></trk></gpx>"
    )


NUMBER = re.compile(r"-?\d+(\.\d+)?")


@st.composite
def tables(draw: st.DrawFn, whole: str) -> str:
    """A table with other numbers, and with cells, rows and columns that nobody means."""
    lines = [line.split(",") for line in whole.splitlines() if not line.startswith("#")]
    for _ in range(draw(st.integers(1, 5))):
        row = draw(st.sampled_from(lines))
        what = draw(st.sampled_from(["near"] * 6 + ["cell", "number", "again", "gone", "column"]))
        if what == "gone" and len(lines) > 1:
            lines.remove(row)
        elif what == "again":
            lines.append(list(row))
        elif what == "column":
            del row[-1:]
        elif row:
            place = draw(st.integers(0, len(row) - 1))
            row[place] = _other(draw, row[place], what)
    return "\n".join(",".join(row) for row in lines) + "\n"


def _other(draw: st.DrawFn, cell: str, what: str) -> str:
    if what == "near" and NUMBER.fullmatch(cell):
        return f"{float(cell) * draw(st.floats(0.7, 1.4)):.6g}"
    if what == "number":
        return f"{draw(st.floats(-1e6, 1e6)):.4g}"
    return str(draw(NASTY)) if what == "cell" else cell
