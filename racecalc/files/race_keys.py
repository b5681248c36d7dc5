"""Every key of a race file: what it means, what it accepts, and what is plausible.

`possible` bounds are refused when broken; outside `plausible` the user is warned. Where no
source is named the ranges are common practice.
"""

from racecalc.files.key import Key
from racecalc.files.option_keys import MONEY_KEYS, OPTION_KEYS
from racecalc.files.rider_keys import RIDER_KEYS
from racecalc.quantities import kinds

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
