"""Single places as a GPX 1.1 file, for a device or a map that shows waypoints.

Only elements of the public standard are written, in the order that its schema asks for (from
memory): in `gpx` the `metadata` before every `wpt`; in `metadata` `name`, `desc`; in `wpt`
`ele`, `name`, `desc`, `type`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from racecalc.quantities.plain_text import one_line

NAMESPACE = "http://www.topografix.com/GPX/1/1"
"""Namespace of GPX 1.1."""

SCHEMA = "http://www.topografix.com/GPX/1/1/gpx.xsd"
"""Where the standard says its schema stands; nothing is fetched from there."""

INSTANCE = "http://www.w3.org/2001/XMLSchema-instance"

CREATOR = "racecalc"


@dataclass(frozen=True)
class Waypoint:
    """One place and what it is called.

    Parameters
    ----------
    latitude, longitude : float
        Position on WGS84 [deg]; a longitude past 180 is turned back.
    elevation : float
        Height above sea level [m].
    name, description, kind : str
        What a device shows, what it tells more, and the sort of place; empty for none.
    """

    latitude: float
    longitude: float
    elevation: float
    name: str
    description: str = ""
    kind: str = ""


def waypoints_gpx(points: Sequence[Waypoint], name: str, description: str = "") -> str:
    """Places as the text of a GPX 1.1 file in UTF-8.

    Parameters
    ----------
    points : sequence of Waypoint
        In the order of the file.
    name, description : str
        What the file as a whole is called and says; empty for none.

    Returns
    -------
    str
        XML with its declaration; words are set on one line without control characters.
    """
    # Attributes and not qualified names, so that every reader meets plain `gpx` and `wpt`.
    root = Element(
        "gpx",
        {
            "xmlns": NAMESPACE,
            "xmlns:xsi": INSTANCE,
            "xsi:schemaLocation": f"{NAMESPACE} {SCHEMA}",
            "version": "1.1",
            "creator": CREATOR,
        },
    )
    _add_words(SubElement(root, "metadata"), name=name, desc=description)
    for point in points:
        place = SubElement(
            root, "wpt", lat=f"{point.latitude:.7f}", lon=f"{_turned_back(point.longitude):.7f}"
        )
        SubElement(place, "ele").text = f"{point.elevation:.1f}"
        _add_words(place, name=point.name, desc=point.description, type=point.kind)
    indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"


def _add_words(parent: Element, **words: str) -> None:
    """Add an element for each text that is not empty, in the order given."""
    for tag, text in words.items():
        if kept := one_line(text):
            SubElement(parent, tag).text = kept


def _turned_back(longitude: float) -> float:
    """The same meridian from -180 up to but not including 180 [deg], as the schema asks."""
    turned = (round(longitude, 7) + 180.0) % 360.0 - 180.0
    return -180.0 if turned >= 180.0 else turned
