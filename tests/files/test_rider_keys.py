"""What the rider can hold, and landmarks, in a race file."""

from pathlib import Path

import pytest

from racecalc.domain.course import Landmark
from racecalc.domain.loading import load_race
from racecalc.domain.race import Rider
from racecalc.errors import InputError
from racecalc.files.race_writing import write_changes, write_starting_files
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.reading import read_power_point
from tests.files.making import race_file, refusal

RACE = """\
[rider]
mass = "67 kg"
power = "262 W"
power_points = [
  "25 min 296 W",
  "3:00 at 385 W",
]
power_fade = "2 %"
pedal_least = "40 W"
pedal_most = "0.42 kW"

[bike]
mass = "9 kg"
cda = "0.236 m^2"
crr = 0.0042

[course]
distance = "20 km"
laps = 2

[[course.landmark]]
at = "30 km"
name = "St. Anna's"
note = "second time round"

[[course.landmark]]
at = "12.4 km"
name = "Church"
"""
POINTS = 'power_points = [\n  "25 min 296 W",\n  "3:00 at 385 W",\n]'


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return race_file(tmp_path, RACE)


def refused(path: Path, old: str, new: str) -> str:
    """Text of the error after a change of the file."""
    error = refusal(path, RACE, old, new)
    assert error.remedy
    return str(error)


def test_values_arrive_in_si(path: Path) -> None:
    race = load_race(path)
    assert race.rider == Rider(
        mass=67.0,
        power=262.0,
        power_points=((1500.0, 296.0), (180.0, 385.0)),
        power_fade=0.02,
        least_power=40.0,
        most_power=420.0,
    )
    assert race.landmarks == (
        Landmark(12_400.0, "Church"),
        Landmark(30_000.0, "St. Anna's", "second time round"),
    )
    assert race.notices == ()


def test_left_out_they_are_nothing(path: Path) -> None:
    text, _, _ = RACE.partition("[[course.landmark]]")
    for line in (POINTS, 'power_fade = "2 %"', 'pedal_least = "40 W"', 'pedal_most = "0.42 kW"'):
        text = text.replace(line, "")
    path.write_text(text, encoding="utf-8")
    race = load_race(path)
    assert race.rider == Rider(mass=67.0, power=262.0)
    assert race.landmarks == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (POINTS, f'critical_power = "282 W"\n{POINTS}', "line 5, rider.power_points: both crit"),
        (POINTS, f'work_above_critical = "17 kJ"\n{POINTS}', "line 5, rider.power_points: both wo"),
        (POINTS, 'work_above_critical = "17 J"', "line 4, rider.work_above_critical: '17 J' is no"),
        (POINTS, 'power_points = "3 min 385 W"', "line 4, rider.power_points: '3 min 385 W' is no"),
        (POINTS, "power_points = []", "line 4, rider.power_points: '[]' is not a list"),
        (POINTS, "power_points = [385]", "line 4, rider.power_points: '385' is not a power with"),
        ('"25 min 296 W"', '"25 min"', "line 4, rider.power_points: '25 min' is not a power with"),
        ('"25 min 296 W"', '"25 min 296"', "line 4, rider.power_points: '296' has no unit"),
        ('"25 min 296 W"', '"25 296 W"', "line 4, rider.power_points: '25' has no unit"),
        ('"25 min 296 W"', '"296 W 25 min"', "line 4, rider.power_points: 'W' is a unit of power"),
        ('"25 min 296 W"', '"25 min 29600 W"', "line 4, rider.power_points: the power in '25 min"),
        ('"25 min 296 W"', '"25 h 296 W"', "line 4, rider.power_points: the duration in '25 h"),
        ('"25 min 296 W"', '"0:00 296 W"', "line 4, rider.power_points: the duration in '0:00"),
        (
            '"25 min 296 W"',
            '"25 min 4.2 W/kg"',
            "line 4, rider.power_points: 'W/kg' cannot be a unit",
        ),
        ('"25 min 296 W"', '"180 s 296 W"', "line 4, rider.power_points: powers over one duration"),
        ('  "25 min 296 W",\n', "", "line 4, rider.power_points: powers over one duration"),
        (POINTS, 'pacing_limits = ["median"]', "line 4, rider.pacing_limits: 'median' is not one"),
        (POINTS, 'pacing_limits = "mean"', "line 4, rider.pacing_limits: 'mean' is not a list"),
        (POINTS, 'pacing_limits = ["mean", "mean 9 W"]', "line 4, rider.pacing_limits: mean is"),
        (
            POINTS,
            'pacing_caps = ["hills 9 W"]',
            "line 4, rider.pacing_caps: 'hills 9 W' is no part and",
        ),
        (
            POINTS,
            'pacing_caps = ["2 km to 1 km 9 W"]',
            "line 4, rider.pacing_caps: 2 km to 1 km is no pa",
        ),
        (
            POINTS,
            'pacing_plan = ["0 km to 2 km 9 W", "3 km to 4 km 9 W"]',
            "line 4, rider.pacing_plan: '3 km to 4 km 9 W' does not begin at 2.00 km",
        ),
        ('"2 %"', '"31 %"', "line 8, rider.power_fade: '31 %' is not possible"),
        ('"2 %"', '"-1 %"', "line 8, rider.power_fade: '-1 %' is not possible"),
        ('"40 W"', '"-4 W"', "line 9, rider.pedal_least: '-4 W' is not possible"),
        ('"40 W"', '"263 W"', "line 9, rider.pedal_least: '263 W' is no less than the race power"),
        (
            '"0.42 kW"',
            '"250 W"',
            "line 10, rider.pedal_most: '250 W' is no more than the race",
        ),
        ('"12.4 km"', '"40.1 km"', "line 27, course.landmark.at: '40.1 km' is beyond the finish"),
        ('"12.4 km"', '"-1 m"', "line 27, course.landmark.at: '-1 m' is not possible"),
        ('at = "12.4 km"\n', "", "line 26: [course.landmark] has no at"),
        ('name = "Church"', "", "line 26: [course.landmark] has no name"),
        ('name = "Church"', 'name = " "', "line 28, course.landmark.name: ' ' is not a text"),
        ('name = "Church"', 'nme = "x"', "line 28, course.landmark.nme: there is no key 'nme'"),
        (
            "laps = 2",
            "laps = 1",
            "line 22, course.landmark.at: '30 km' is beyond the finish at 20",
        ),
    ],
)
def test_what_will_not_do(path: Path, old: str, new: str, said: str) -> None:
    assert f"race.toml, {said}" in refused(path, old, new)


@pytest.mark.parametrize(
    ("least", "most", "said"),
    [
        ("262 W", "420 W", "line 9, rider.pedal_least: '262 W' is no less than the race power"),
        ("40 W", "262 W", "line 10, rider.pedal_most: '262 W' is no more than the race power"),
    ],
)
def test_least_and_most_leave_room_around_the_power(
    path: Path, least: str, most: str, said: str
) -> None:
    same = f'pedal_least = "{least}"\npedal_most = "{most}"'
    assert said in refused(path, 'pedal_least = "40 W"\npedal_most = "0.42 kW"', same)


def test_a_landmark_table_that_stands_alone(path: Path) -> None:
    text, _, _ = RACE.partition("[[course.landmark]]")
    path.write_text(text + '[course.landmark]\nat = "1 km"\nname = "x"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"write \[\[course.landmark\]\]"):
        load_race(path)


def test_the_unusual_is_accepted_with_a_warning(path: Path) -> None:
    race = load_race(path, ["rider.power_fade=12 %"])
    assert race.rider.power_fade == pytest.approx(0.12)
    assert "plausible is 0 % to 8 %" in str(race.notices[0])


def test_changes_reach_landmarks_and_points(path: Path) -> None:
    changes = [
        "course.landmark.St. Anna's.at=31 km",
        "course.landmark.1.note=left",
        'rider.power_points=["5 min 350 W", "20 min 300 W"]',
    ]
    write_changes(path, changes)
    race = load_race(path)
    assert race.landmarks[1] == Landmark(31_000.0, "St. Anna's", "left")
    assert race.rider.power_points == ((300.0, 350.0), (1200.0, 300.0))


def test_the_lines_of_a_new_race_file_can_be_used(tmp_path: Path) -> None:
    path, _ = write_starting_files(tmp_path)
    text = path.read_text(encoding="utf-8")
    for line in ("power_points", "power_fade", "pedal_least", "[[course.lan", "at =", 'name = "Ch'):
        assert text.count(f"# {line}") == 1
        text = text.replace(f"# {line}", line)
    path.write_text(text, encoding="utf-8")
    race = load_race(path)
    assert len(race.rider.power_points) == 3
    assert race.rider.power_fade == pytest.approx(0.02)
    assert race.landmarks == (Landmark(12_400.0, "Church"),)


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("3 min 385 W", (180.0, 385.0)),
        ("3:00 at 385 W", (180.0, 385.0)),
        ("3:00, 385W", (180.0, 385.0)),
        ("3:00 AT 385 watts", (180.0, 385.0)),
        ("1 h 2 min 285 W", (3720.0, 285.0)),
        ("1h 2min at 0,285 kW", (3720.0, 285.0)),
        ("1:10 h:min 285 W", (4200.0, 285.0)),
        ("90 s 1 020 W", (90.0, 1020.0)),
    ],
)
def test_power_points(text: str, point: tuple[float, float]) -> None:
    assert read_power_point(text) == pytest.approx(point)


@pytest.mark.parametrize("text", ["", "385 W", "at 385 W", "3 min", "x at y", None, True])
def test_no_power_points(text: object) -> None:
    with pytest.raises(QuantityError):
        read_power_point(text)


@pytest.mark.parametrize(
    "changes",
    [
        {"power_points": ((0.0, 300.0),)},
        {"power_fade": 1.0},
        {"power_fade": -0.1},
        {"least_power": -1.0},
        {"least_power": 200.0, "most_power": 200.0},
    ],
)
def test_impossible_riders(changes: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=next(reversed(changes))):
        Rider(mass=67.0, power=262.0, **changes)  # type: ignore[arg-type]


def test_no_landmark_before_the_start() -> None:
    with pytest.raises(ValueError, match="before the start"):
        Landmark(-1.0, "Church")
