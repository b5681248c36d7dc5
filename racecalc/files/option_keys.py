"""The keys of an option and of the money table of a race file."""

from racecalc.files.key import Key
from racecalc.quantities import kinds

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
