"""Every key of the race file: meaning, range, default with its source, where to find its value."""

from dataclasses import dataclass
from typing import Literal

from racecalc.quantities import kinds
from racecalc.quantities.kinds import Kind

# --- What a key of a race file is ----------------------------------------------------------------

Form = Literal[
    "text",
    "flag",
    "count",
    "money",
    "direction",
    "drag area",
    "word",
    "names",
    "shares",
    "power points",
]


@dataclass(frozen=True)
class Key:
    """One key of a race file."""

    form: Kind | Form
    """Kind of quantity, or another form of value."""
    meaning: str
    """What it is, in one line."""
    possible: tuple[str, str] | None = None
    plausible: tuple[str, str] | None = None
    """Lowest and highest value, with units."""
    words: tuple[str, ...] = ()
    """Words accepted instead of (or, with the form "word", as) the value."""
    default: str = ""
    """Value where the key is absent, as it would be written; empty for none."""
    source: str = ""
    """Where the default comes from."""
    example: str = ""
    """Value to suggest; the example of the kind where empty."""


# --- The keys of an option and of the money table of a race file ---------------------------------

OPTION_KEYS = {
    "name": Key("text", "what it is called"),
    "slot": Key("text", "one option of a slot can be used at a time"),
    "price": Key("money", "purchase price, amount and ISO 4217 code"),
    "mass": Key(
        kinds.MASS,
        "change of mass against what it replaces",
        ("-30 kg", "30 kg"),
        ("-2 kg", "3 kg"),
        default="0 g",
    ),
    "saves": Key("text", "stated saving"),
    "doubt": Key("text", "standard uncertainty of the saving"),
    "acts_on": Key(
        "word",
        "which loss the saving reduces",
        words=("air", "tyres", "drivetrain"),
        default="air",
    ),
    "test_density": Key(
        kinds.DENSITY,
        "air density that the stated saving refers to",
        ("0.5 kg/m^3", "1.6 kg/m^3"),
        ("0.85 kg/m^3", "1.4 kg/m^3"),
        default="1.20 kg/m^3",
        source="assumed; about 20 degC at sea level",
    ),
    "test_power_at": Key(
        "word",
        "where the stated watts were counted",
        words=("wheel", "cranks"),
        default="wheel",
        source="assumed; watts of drag times speed",
    ),
    "set_of": Key("names", "options that were tested together; saves is that of the set"),
    "trial": Key("text", "runs of a test (.csv) that tell the saving and its doubt"),
    "trial_item": Key("text", "name of the option in the runs; its own name unless given"),
    "trial_baseline": Key("text", "item it is compared with; that of the first run"),
    "trial_rider": Key("text", "who rides the race, if they were tested"),
    "hire": Key("money", "fee for one race, where it can be hired"),
    "resale": Key("money", "what it still fetches when you are done with it"),
    "life": Key(
        "text",
        "how long it serves: races, years, or kilometres or hours of racing",
        example='"40 races"',
    ),
    "owned": Key("flag", "whether it is yours already and costs nothing more", default="false"),
    "needs": Key("names", "options without which this one cannot be used"),
    "excludes": Key("names", "options that cannot be used beside this one"),
    "rules": Key(
        "word",
        "what the organiser's rules say of it, as far as you know",
        words=("allowed", "forbidden", "not checked"),
        default="not checked",
    ),
    "holds": Key(
        "shares",
        "share of the riding time in which the position is held; a list for equal parts of the"
        " course, from start to finish",
        example='"80 %"',
    ),
    "otherwise": Key("text", "what is saved while the position is not held; nothing unless given"),
    "power_loss": Key(
        "text", "power it costs while held, in watts or as a share of yours", example='"4 W"'
    ),
    "least_gain": Key(
        kinds.POWER,
        "what it must be worth on this course before you would use it, dislike included",
        ("0 W", "200 W"),
        ("0 W", "60 W"),
    ),
    "comfort": Key("text", "your own words on how it feels; no seconds are made of it"),
    "catches_wind": Key("flag", "whether gusts push it about, as a deep wheel", default="false"),
    "note": Key("text", "your own words on comfort, fit or rules"),
}

MONEY_KEYS = {
    "per_second": Key("money", "most you would pay for a second on this course"),
    "budget": Key("money", "most you would spend in all"),
    "races_a_season": Key("count", "races a season", ("1", "200")),
    "test_fee": Key("money", "what a test costs: track, travel, your time"),
}


# --- The keys of the rider of a race file --------------------------------------------------------

RIDER_KEYS = {
    "mass": Key(kinds.MASS, "body mass", ("25 kg", "250 kg"), ("35 kg", "130 kg")),
    "power": Key(kinds.POWER, "power held over the race", ("1 W", "2500 W"), ("80 W", "500 W")),
    "power_doubt": Key(
        kinds.POWER,
        "standard uncertainty of the power: meter and what will be held",
        ("0 W", "500 W"),
        ("0 W", "50 W"),
        example='"6 W"',
    ),
    "mass_doubt": Key(
        kinds.MASS,
        "standard uncertainty of rider and bike together",
        ("0 kg", "50 kg"),
        ("0 kg", "4 kg"),
        example='"0.5 kg"',
    ),
    "fluid_used": Key(
        kinds.MASS,
        "mass drunk or shed evenly over the course",
        ("0 kg", "20 kg"),
        ("0 kg", "5 kg"),
        default="0 kg",
    ),
    "critical_power": Key(
        kinds.POWER, "critical power, for pacing", ("1 W", "1000 W"), ("100 W", "450 W")
    ),
    "work_above_critical": Key(
        kinds.ENERGY,
        "work above critical power, for pacing",
        ("0.1 kJ", "200 kJ"),
        ("5 kJ", "40 kJ"),
    ),
    "power_points": Key(
        "power points",
        "powers held all-out and for how long, instead of critical_power and work_above_critical",
        example='["3 min 385 W", "12 min 318 W", "25 min 296 W"]',
    ),
    "power_fade": Key(
        kinds.RATIO,
        "share of what can be held that is lost an hour in long races",
        ("0 %", "30 %"),
        ("0 %", "8 %"),
        default="0 %",
        example='"2 %"',
    ),
    "pedal_least": Key(
        kinds.POWER,
        "least power while pedalling, for pacing",
        ("0 W", "1000 W"),
        ("0 W", "250 W"),
        default="0 W",
    ),
    "pedal_most": Key(
        kinds.POWER,
        "most power you are willing to push, for pacing",
        ("1 W", "2500 W"),
        ("100 W", "1200 W"),
        example='"420 W"',
    ),
}


# --- Every key of a race file --------------------------------------------------------------------

MARTIN = "Martin et al. 1998"
TERRAINS = (
    "open water",
    "beach",
    "short grass",
    "open fields",
    "low hedges",
    "hedges and trees",
    "suburb",
)
SURFACES = ("wooden track", "smooth asphalt", "chip road", "worn road", "cobbles")

RACE_KEYS: dict[str, dict[str, Key]] = {
    "race": {
        "name": Key("text", "title shown above every answer"),
    },
    "rider": RIDER_KEYS,
    "bike": {
        "mass": Key(
            kinds.MASS,
            "bike with bottles, shoes, clothing and spares",
            ("1 kg", "60 kg"),
            ("5 kg", "16 kg"),
            example='"8.9 kg"',
        ),
        "cda": Key(
            "drag area",
            "drag area of rider and bike, one value or a table by yaw",
            ("0.05 m^2", "1.2 m^2"),
            ("0.16 m^2", "0.55 m^2"),
            example='"0.24 m^2"',
        ),
        "cda_doubt": Key(
            kinds.AREA,
            "standard uncertainty of cda, the same at every yaw",
            ("0 m^2", "0.3 m^2"),
            ("0 m^2", "0.03 m^2"),
            example='"0.004 m^2"',
        ),
        "crr": Key(
            kinds.RATIO,
            "rolling-resistance coefficient",
            ("0.0001", "0.1"),
            ("0.0015", "0.02"),
            example="0.0042",
        ),
        "crr_doubt": Key(
            kinds.RATIO,
            "standard uncertainty of crr",
            ("0", "0.02"),
            ("0", "0.002"),
            example="0.0004",
        ),
        "drivetrain_loss": Key(
            kinds.RATIO,
            "share of the crank power that does not reach the wheel",
            ("0 %", "50 %"),
            ("0 %", "7 %"),
            default="2.302 %",
            source=MARTIN,
        ),
        "drivetrain_loss_doubt": Key(
            kinds.RATIO,
            "standard uncertainty of drivetrain_loss",
            ("0 %", "10 %"),
            ("0 %", "2 %"),
            example='"0.5 %"',
        ),
        "start_speed": Key(
            kinds.SPEED,
            "speed at the start line",
            ("0 km/h", "100 km/h"),
            ("0 km/h", "60 km/h"),
            default="0 km/h",
            source="assumed standing start",
        ),
        "spoke_drag": Key(
            kinds.AREA,
            "drag area of the turning wheels; 0 where cda was measured riding",
            ("0 m^2", "0.05 m^2"),
            ("0 m^2", "0.02 m^2"),
            default="0.0044 m^2",
            source=MARTIN,
        ),
        "bearing_drag": Key(
            kinds.FORCE,
            "drag of the wheel bearings at low speed",
            ("0 N", "5 N"),
            ("0 N", "0.5 N"),
            default="91 mN",
            source=MARTIN,
        ),
        "bearing_drag_slope": Key(
            kinds.DAMPING,
            "growth of the bearing drag with speed",
            ("0 N s/m", "1 N s/m"),
            ("0 N s/m", "0.05 N s/m"),
            default="8.7 mN s/m",
            source=MARTIN,
        ),
        "wheel_inertia": Key(
            kinds.INERTIA,
            "moment of inertia of both wheels",
            ("0 kg m^2", "2 kg m^2"),
            ("0.05 kg m^2", "0.4 kg m^2"),
            default="0.14 kg m^2",
            source=MARTIN,
        ),
        "wheel_radius": Key(
            kinds.LENGTH,
            "rolling radius of the wheels",
            ("0.1 m", "0.5 m"),
            ("0.2 m", "0.38 m"),
            default="0.311 m",
            source=MARTIN,
        ),
        "power_at": Key(
            "word",
            "where the power is measured",
            words=("cranks", "hub"),
            default="cranks",
            source="assumed",
        ),
    },
    "air": {
        "temperature": Key(
            kinds.TEMPERATURE,
            "air temperature",
            ("-60 degC", "60 degC"),
            ("-15 degC", "45 degC"),
            default="15 degC",
            source="ISO 2533 standard atmosphere",
        ),
        "temperature_doubt": Key(
            kinds.TEMPERATURE_CHANGE,
            "standard uncertainty of the temperature",
            ("0 degC", "30 degC"),
            ("0 degC", "8 degC"),
        ),
        "pressure": Key(
            kinds.PRESSURE,
            "pressure at the altitude itself, not reduced to sea level",
            ("500 hPa", "1100 hPa"),
            ("650 hPa", "1060 hPa"),
        ),
        "sea_level_pressure": Key(
            kinds.PRESSURE,
            "pressure reduced to sea level, as in weather reports",
            ("850 hPa", "1100 hPa"),
            ("950 hPa", "1060 hPa"),
            default="1013.25 hPa",
            source="ISO 2533 standard atmosphere",
        ),
        "pressure_doubt": Key(
            kinds.PRESSURE,
            "standard uncertainty of the pressure, of either kind",
            ("0 hPa", "100 hPa"),
            ("0 hPa", "20 hPa"),
            example='"4 hPa"',
        ),
        "altitude": Key(
            kinds.LENGTH,
            "height above sea level where the weather holds",
            ("-500 m", "6000 m"),
            ("-430 m", "5000 m"),
            default="0 m",
            source="assumed",
        ),
        "humidity": Key(
            kinds.RATIO,
            "relative humidity",
            ("0 %", "100 %"),
            default="50 %",
            source="assumed; 0 to 100 % changes the density by under 2 %",
        ),
        "dew_point": Key(
            kinds.TEMPERATURE, "dew point", ("-60 degC", "60 degC"), ("-30 degC", "32 degC")
        ),
        "density": Key(
            kinds.DENSITY,
            "air density, instead of the weather",
            ("0.5 kg/m^3", "1.6 kg/m^3"),
            ("0.85 kg/m^3", "1.4 kg/m^3"),
        ),
        "density_doubt": Key(
            kinds.DENSITY,
            "standard uncertainty of the density, where it is given",
            ("0 kg/m^3", "0.3 kg/m^3"),
            ("0 kg/m^3", "0.06 kg/m^3"),
            example='"0.01 kg/m^3"',
        ),
        "wind_speed": Key(
            kinds.SPEED,
            "mean wind, as forecast",
            ("0 m/s", "40 m/s"),
            ("0 m/s", "14 m/s"),
            default="0 m/s",
            source="assumed calm",
        ),
        "wind_doubt": Key(
            kinds.SPEED,
            "standard uncertainty of the mean wind, at the height it is stated for",
            ("0 m/s", "20 m/s"),
            ("0 m/s", "5 m/s"),
            example='"1.2 m/s"',
        ),
        "wind_from": Key(
            "direction",
            "where the wind comes from",
            words=("ahead", "behind", "left", "right"),
        ),
        "wind_from_doubt": Key(
            kinds.ANGLE,
            "standard uncertainty of the direction of the wind",
            ("0 deg", "180 deg"),
            ("0 deg", "90 deg"),
            example='"20 deg"',
        ),
        "wind_height": Key(
            kinds.LENGTH,
            "height at which the wind was measured or forecast",
            ("0.9 m", "200 m"),
            ("1 m", "100 m"),
            default="10 m",
            source="height of weather reports, WMO-No. 8",
        ),
        "wind_at_rider": Key(
            kinds.SPEED,
            "mean wind at the rider, instead of wind_speed",
            ("0 m/s", "40 m/s"),
            ("0 m/s", "10 m/s"),
        ),
        "terrain": Key(
            "word",
            "what the wind blows over; brings it down to the rider",
            words=TERRAINS,
            default="open fields",
            source="roughness lengths of the Davenport-Wieringa classes",
        ),
        "wind_law": Key(
            "word",
            "profile that brings the wind down to the rider",
            words=("log", "power"),
            default="log",
            source="European Wind Atlas 1989",
        ),
    },
    "course": {
        "file": Key("text", "course file: .gpx, .fit, .tcx or .csv"),
        "distance": Key(
            kinds.LENGTH,
            "length of a made-up course",
            ("20 m", "2000 km"),
            ("1 km", "400 km"),
        ),
        "grade": Key(
            kinds.GRADE,
            "grade of a made-up course",
            ("-45 %", "45 %"),
            ("-20 %", "20 %"),
            default="0 %",
        ),
        "bearing": Key("direction", "direction of travel on a made-up course"),
        "laps": Key("count", "how often the course is ridden", ("1", "500"), default="1"),
        "reverse": Key("flag", "ride it the other way round", default="false"),
        "flat": Key("flag", "ride it without elevation", default="false"),
        "smoothing": Key(
            kinds.LENGTH,
            "noise of the elevations, smoothed away (standard deviation)",
            ("0 m", "50 m"),
            ("0 m", "10 m"),
            words=("auto", "none"),
            default="auto",
        ),
        "step": Key(
            kinds.LENGTH,
            "distance between the nodes of the solver",
            ("0.2 m", "500 m"),
            ("1 m", "50 m"),
            default="10 m",
        ),
        "trim_start": Key(
            kinds.LENGTH, "length cut off at the start", ("0 m", "1000 km"), default="0 m"
        ),
        "trim_end": Key(
            kinds.LENGTH, "length cut off at the finish", ("0 m", "1000 km"), default="0 m"
        ),
        "official_length": Key(
            kinds.LENGTH, "length to which the file is scaled", ("20 m", "2000 km")
        ),
        "max_speed": Key(
            kinds.SPEED,
            "highest speed the rider allows anywhere",
            ("1 km/h", "200 km/h"),
            ("15 km/h", "110 km/h"),
            words=("none",),
            default="70 km/h",
            source="assumed; a cautious ceiling for open roads",
        ),
        "lateral_grip": Key(
            kinds.RATIO,
            "sideways acceleration trusted in bends, over that of free fall",
            ("0.01", "2"),
            ("0.2", "0.8"),
            words=("none",),
            default="0.5",
            source="assumed for dry asphalt",
        ),
        "braking": Key(
            kinds.ACCELERATION,
            "deceleration under the brakes",
            ("0.1 m/s^2", "20 m/s^2"),
            ("1 m/s^2", "6 m/s^2"),
            words=("none",),
            default="2.5 m/s^2",
            source="assumed; well below what dry brakes can do",
        ),
    },
    "course.section": {
        "from": Key(kinds.LENGTH, "where it begins, along the course file", ("0 m", "2000 km")),
        "to": Key(kinds.LENGTH, "where it ends, along the course file", ("0 m", "2000 km")),
        "crr": Key(
            kinds.RATIO,
            "rolling-resistance coefficient there, on these tyres",
            ("0.0001", "0.1"),
            ("0.0015", "0.02"),
        ),
        "surface": Key("word", "surface there, as a factor on the bike's crr", words=SURFACES),
        "shelter": Key(kinds.RATIO, "share of the open wind that is felt there", ("0 %", "100 %")),
        "max_speed": Key(
            kinds.SPEED,
            "highest speed there",
            ("1 km/h", "200 km/h"),
            ("5 km/h", "110 km/h"),
        ),
    },
    "course.landmark": {
        "at": Key(
            kinds.LENGTH,
            "where it is passed, along the course as it is ridden",
            ("0 m", "2000 km"),
        ),
        "name": Key("text", "what it is called"),
        "note": Key("text", "your own words, for the card"),
    },
    "option": OPTION_KEYS,
    "money": MONEY_KEYS,
}

LISTS = frozenset({"option", "course.section", "course.landmark"})
"""Tables that may stand several times."""


# --- Where a person finds the value of each key of a race file; common practice, no source -------

_METER = "your power meter's record of a race of about this length"
_SCALE = "a scale"
_REPORT = "the forecast for the place and hour"
_MAKER = "its maker's box, a test, or your own runs"
_OWN = "your own choice"
_NOTES = "your own notes"
_LEAVE = "leave it out unless you measured it"
_ORGANISER = "the organiser's race book"
_DOUBTS = "the standard deviation of repeated values"

WHERE_TO_FIND: dict[str, dict[str, str]] = {
    "race": {"name": _OWN},
    "rider": {
        "mass": f"{_SCALE}, in the morning of a usual day",
        "power": _METER,
        "power_doubt": f"the meter's stated accuracy and your spread from race to race: {_DOUBTS}",
        "mass_doubt": _DOUBTS,
        "fluid_used": f"{_SCALE}, before and after a ride of this length",
        "critical_power": "two or more all-out efforts of 2 to 20 min, or a laboratory",
        "work_above_critical": "the same efforts; or state power_points and have it fitted",
        "power_points": "all-out efforts of 2 to 20 min on fresh days",
        "power_fade": "your records of long races: late power against early power",
        "pedal_least": _OWN,
        "pedal_most": _OWN,
    },
    "bike": {
        "mass": f"{_SCALE}, with all that is carried but the rider",
        "cda": "your own field test or a wind tunnel; road position about 0.30 to 0.40 m^2, aero"
        " bars about 0.20 to 0.28 m^2",
        "cda_doubt": _DOUBTS,
        "crr": "a roll-down or drum test of the tyre, with a factor for the road",
        "crr_doubt": _DOUBTS,
        "drivetrain_loss": "a test of the chain; 2 to 4 % is usual",
        "drivetrain_loss_doubt": _DOUBTS,
        "start_speed": "0 for a standing start; else the speed at which the clock begins",
        "spoke_drag": "0 where cda was measured riding; else a wheel's own test",
        "bearing_drag": _LEAVE,
        "bearing_drag_slope": _LEAVE,
        "wheel_inertia": _LEAVE,
        "wheel_radius": "the rolled circumference over 6.283",
        "power_at": "where your power meter sits",
    },
    "air": {
        "temperature": _REPORT,
        "temperature_doubt": "two forecasts of the same hour: about half the gap between them",
        "pressure": "a barometer at the place, not set to sea level",
        "sea_level_pressure": f"{_REPORT}: the figure of weather maps",
        "pressure_doubt": "two forecasts of the same hour: about half the gap between them",
        "altitude": "a map",
        "humidity": _REPORT,
        "dew_point": f"{_REPORT}, or an airport's report",
        "density": "a pocket weather meter at the roadside",
        "density_doubt": _DOUBTS,
        "wind_speed": f"{_REPORT}: the mean, not the gusts",
        "wind_doubt": "two forecasts of the same hour: about half the gap between them",
        "wind_from": f"{_REPORT}: where it comes from",
        "wind_from_doubt": "two forecasts of the same hour: about half the gap between them",
        "wind_height": "10 m for reports; the height of your own wind meter",
        "wind_at_rider": "a wind meter held at the height of the rider",
        "terrain": "a look round, or an aerial picture",
        "wind_law": "leave it at log",
    },
    "course": {
        "file": "a recording of the course, or the organiser's",
        "distance": _ORGANISER,
        "grade": "rise over length from a map",
        "bearing": "a map: 90 deg rides east",
        "laps": _ORGANISER,
        "reverse": _ORGANISER,
        "flat": "true to see what the hills do",
        "smoothing": "leave it at auto",
        "step": "leave it at 10 m",
        "trim_start": "where the recording began before the line",
        "trim_end": "where the recording ran on after the line",
        "official_length": _ORGANISER,
        "max_speed": "what you let it run at most, never more than the law allows",
        "lateral_grip": "0.5 dry, 0.3 wet is cautious",
        "braking": "2.5 m/s^2 dry, less in the wet",
    },
    "course.section": {
        "from": "the cursor of the course view",
        "to": "the cursor of the course view",
        "crr": "a roll-down there",
        "surface": "a ride or a walk along it",
        "shelter": "a guess from hedges, woods and walls; try more and less",
        "max_speed": "road signs, bends, crossings",
    },
    "course.landmark": {
        "at": "the cursor of the course view",
        "name": _OWN,
        "note": _NOTES,
    },
    "option": {
        "name": _OWN,
        "slot": "what it replaces: only one of a slot is used at a time",
        "price": "the shop",
        "mass": f"{_SCALE}: its mass less that of what it replaces",
        "saves": _MAKER,
        "doubt": "the spread of the test; a claim often states none, then leave it out",
        "acts_on": "air for drag, tyres for rolling, drivetrain for chain and gears",
        "test_density": "the record of the test",
        "test_power_at": "the record of the test",
        "set_of": "the record of the test",
        "trial": "a table of your own runs",
        "trial_item": "the column item of that table",
        "trial_baseline": "the column item of that table",
        "trial_rider": "the column rider of that table",
        "hire": "the shop",
        "resale": "second-hand offers of the same thing",
        "life": f"its maker, or {_NOTES}",
        "owned": "your garage",
        "needs": _NOTES,
        "excludes": _NOTES,
        "rules": "the event's rules, or its organiser",
        "holds": "a ride on video or with a second person watching",
        "otherwise": "the position you fall back to, tested",
        "power_loss": "what you hold in it against what you hold upright, tested",
        "least_gain": _OWN,
        "comfort": _NOTES,
        "catches_wind": "true for deep or covered wheels",
        "note": _NOTES,
    },
    "money": {
        "per_second": _OWN,
        "budget": _OWN,
        "races_a_season": "your calendar",
        "test_fee": "the track, the tunnel, the journey",
    },
}
