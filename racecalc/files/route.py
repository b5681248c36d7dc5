"""A course with places along it as a GPX 1.1 file, for a device that leads along it."""

from collections.abc import Iterable
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from racecalc.arrays import FloatArray
from racecalc.quantities.plain_text import one_line

NAMESPACE = "http://www.topografix.com/GPX/1/1"
"""Namespace of GPX 1.1."""

SCHEMA = "http://www.topografix.com/GPX/1/1/gpx.xsd"
"""Where the standard says its schema stands; nothing is fetched from there."""

INSTANCE = "http://www.w3.org/2001/XMLSchema-instance"

CREATOR = "racecalc"


@dataclass(frozen=True)
class Waypoint:
    """One place and what it is called."""

    latitude: float
    longitude: float
    """Position on WGS84 [deg]; a longitude past 180 is turned back."""
    elevation: float
    """Height above sea level [m]."""
    name: str
    description: str = ""
    kind: str = ""
    """What a device shows, what it tells more, and the sort of place; empty for none."""


def route_gpx(
    points: Iterable[Waypoint], line: FloatArray, name: str, description: str = ""
) -> str:
    """A track and places along it as the text of a GPX 1.1 file in UTF-8.

    Only elements of the public standard are written, in the order of its schema (from memory).

    Parameters
    ----------
    points : iterable of Waypoint
        The places, in the order of the ride.
    line : FloatArray
        Latitude [deg], longitude [deg] and height [m] of the track from start to finish; shape
        (n, 3).
    name, description : str
        Of the file; the track bears the name too.
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
        place = _add_place(root, "wpt", point.latitude, point.longitude, point.elevation)
        _add_words(place, name=point.name, desc=point.description, type=point.kind)
    track = SubElement(root, "trk")
    _add_words(track, name=name)
    segment = SubElement(track, "trkseg")
    for latitude, longitude, elevation in line.tolist():
        _add_place(segment, "trkpt", latitude, longitude, elevation)
    indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"


def _add_place(
    parent: Element, tag: str, latitude: float, longitude: float, elevation: float
) -> Element:
    where = {"lat": f"{latitude:.7f}", "lon": f"{_turned_back(longitude):.7f}"}
    place = SubElement(parent, tag, where)
    SubElement(place, "ele").text = f"{elevation:.1f}"
    return place


def _add_words(parent: Element, **words: str) -> None:
    """Add an element for each text that is not empty, in the order given."""
    for tag, text in words.items():
        if kept := one_line(text):
            SubElement(parent, tag).text = kept


def _turned_back(longitude: float) -> float:
    """The same meridian from -180 up to but not including 180 [deg], as the schema asks."""
    turned = (round(longitude, 7) + 180.0) % 360.0 - 180.0
    return -180.0 if turned >= 180.0 else turned
