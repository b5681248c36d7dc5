"""Race files that are solved in a blink, for pages about them."""

import json
from pathlib import Path

SUIT = """
[[option]]
name = "Suit"
slot = "suit"
price = "100 EUR"
saves = "0.006 m^2"
doubt = "0.001 m^2"
rules = "allowed"
"""

CLAIM = """
[[option]]
name = "Claimed covers"
price = "80 EUR"
saves = "5 W at 45 km/h"
"""

UNPROVED = """
[[option]]
name = "Unproved gloves"
price = "50 EUR"
saves = "0.002 m^2"
doubt = "0.002 m^2"
"""

FREE = """
[[option]]
name = "Pads lower"
price = "0 EUR"
saves = "0.004 m^2"
doubt = "0.003 m^2"
"""

HEAVY = """
[[option]]
name = "Heavy wheel"
slot = "wheel"
price = "600 EUR"
mass = "+2 kg"
saves = "0.0005 m^2"
doubt = "0.0002 m^2"
catches_wind = true
"""

DEEP = """
[[option]]
name = "Deep wheel"
slot = "wheel"
price = "50 EUR"
saves = "0.006 m^2"
doubt = "0.001 m^2"
catches_wind = true
"""

OWNED = """
[[option]]
name = "Owned race gloves"
price = "200 EUR"
owned = true
saves = "0.003 m^2"
doubt = "0.001 m^2"
"""


def race_text(
    *options: str, money: str = 'per_second = "20 EUR"', more: str = "", air: str = ""
) -> str:
    """A race file of 20 km with some options; `more` stands before them."""
    return f"""
[race]
name = "Reed Canal"
[rider]
mass = "67 kg"
power = "250 W"
[bike]
mass = "9 kg"
cda = "0.24 m^2"
crr = 0.004
drivetrain_loss = "2.5 %"
[air]
density = "1.2 kg/m^3"
{air}
[course]
distance = "20 km"
grade = "0 %"
bearing = "90 deg"
step = "50 m"
[money]
{money}
{more}
{"".join(options)}
"""


def race_in(folder: Path, text: str, name: str = "canal.toml") -> Path:
    """The race file itself."""
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def named_throughout(*names: str) -> str:
    """A race file that says such words wherever words of the user may stand."""
    parts = []
    for number, name in enumerate(names, 1):
        quoted = json.dumps(name, ensure_ascii=False)
        parts.append(
            f'[[course.landmark]]\nat = "{number} km"\nname = {quoted}\nnote = {quoted}\n'
            f"[[option]]\nname = {quoted}\nslot = {quoted}\n"
            'price = "100 EUR"\nsaves = "0.006 m^2"\ndoubt = "0.001 m^2"\n'
            f"note = {quoted}\ncomfort = {quoted}\n"
        )
    other = json.dumps(f"{names[0]} again", ensure_ascii=False)
    claim = f'[[option]]\nname = {other}\nprice = "9 EUR"\nsaves = "4 W at 45 km/h"\n'
    text = race_text(*parts, claim)
    title = json.dumps(names[-1], ensure_ascii=False)
    return text.replace('name = "Reed Canal"', f"name = {title}")
