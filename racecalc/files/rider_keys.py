"""The keys of the rider of a race file."""

from racecalc.files.key import Key
from racecalc.quantities import kinds

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
