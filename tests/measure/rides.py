"""Recordings as files: the smallest FIT, TCX, GPX and CSV of a ride, by hand."""

import struct
from datetime import UTC, datetime
from pathlib import Path

from racecalc.files.recordings import Recording
from tests.files.fit_bytes import SEMICIRCLES, checksum

EPOCH = 631_065_600
"""Seconds from 1970 to the epoch of FIT, 31 December 1989 (from memory)."""


def stamp(time: float) -> str:
    return datetime.fromtimestamp(time, UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def points(ride: Recording):
    """Time, place, speed, distance, power and air speed of each point."""
    covered = 0.0
    for row, time in enumerate(ride.time):
        covered += float(ride.speed[row]) * (float(time - ride.time[row - 1]) if row else 0.0)
        air = None if ride.air_speed is None else float(ride.air_speed[row])
        yield (
            float(time), float(ride.latitude[row]), float(ride.longitude[row]),
            max(float(ride.speed[row]), 0.0), covered, round(float(ride.power[row])), air,
        )  # fmt: skip


def write_csv(path: Path, ride: Recording) -> None:
    lines = ["time,latitude [deg],longitude [deg],speed [m/s],power [W],wind sensor [km/h]"]
    lines += [
        f"{stamp(time)},{north:.7f},{east:.7f},{speed:.3f},{power},{3.6 * (air or 0.0):.3f}"
        for time, north, east, speed, _, power, air in points(ride)
    ]
    path.write_text("\n".join(lines), encoding="utf-8")


def write_tcx(path: Path, ride: Recording) -> None:
    laps = "".join(
        f'<Lap StartTime="{stamp(lap.start)}"><TotalTimeSeconds>{lap.end - lap.start:.3f}'
        f"</TotalTimeSeconds>{_tcx_points(ride) if not number else ''}</Lap>"
        for number, lap in enumerate(ride.laps)
    )
    path.write_text(
        '<?xml version="1.0"?><TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/'
        'TrainingCenterDatabase/v2" xmlns:x="http://www.garmin.com/xmlschemas/ActivityExtension/'
        f'v2"><Activities><Activity Sport="Biking">{laps}</Activity></Activities>'
        "</TrainingCenterDatabase>",
        encoding="utf-8",
    )


def _tcx_points(ride: Recording) -> str:
    every = "".join(
        f"<Trackpoint><Time>{stamp(time)}</Time><Position><LatitudeDegrees>{north:.7f}"
        f"</LatitudeDegrees><LongitudeDegrees>{east:.7f}</LongitudeDegrees></Position>"
        f"<DistanceMeters>{covered:.2f}</DistanceMeters><Extensions><x:TPX><x:Speed>{speed:.3f}"
        f"</x:Speed><x:Watts>{power}</x:Watts></x:TPX></Extensions></Trackpoint>"
        for time, north, east, speed, covered, power, _ in points(ride)
    )
    return f"<Track>{every}</Track>"


def write_gpx(path: Path, ride: Recording) -> None:
    every = "".join(
        f'<trkpt lat="{north:.7f}" lon="{east:.7f}"><time>{stamp(time)}</time><extensions>'
        f"<power>{power}</power><a:TrackPointExtension><a:speed>{speed:.3f}</a:speed>"
        "</a:TrackPointExtension></extensions></trkpt>"
        for time, north, east, speed, _, power, _ in points(ride)
    )
    path.write_text(
        '<?xml version="1.0"?><gpx version="1.1" creator="test" xmlns="http://www.topografix.com/'
        f'GPX/1/1" xmlns:a="urn:test"><trk><trkseg>{every}</trkseg></trk></gpx>',
        encoding="utf-8",
    )


def write_fit(path: Path, ride: Recording) -> None:
    """A FIT file with a lap message a lap and the air speed as a developer field [km/h]."""
    body = _definition(0, 207, [(3, 1, 0x02)]) + struct.pack("<BB", 0, 0)
    names = [(0, 1, 0x02), (1, 1, 0x02), (2, 1, 0x02), (3, 16, 0x07), (8, 16, 0x07)]
    body += _definition(1, 206, names)
    body += struct.pack("<BBBB16s16s", 1, 0, 0, 0x88, b"wind sensor", b"km/h")
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (73, 4, 0x86), (5, 4, 0x86), (7, 2, 0x84)]
    body += _definition(2, 20, fields, [(0, 4, 0)])
    for time, north, east, speed, covered, power, air in points(ride):
        place = round(north * SEMICIRCLES), round(east * SEMICIRCLES)
        body += struct.pack(
            "<BIiiIIHf", 2, round(time) - EPOCH, *place, round(1000 * speed), round(100 * covered),
            power, 3.6 * (air or 0.0),
        )  # fmt: skip
    body += _definition(3, 19, [(253, 4, 0x86), (2, 4, 0x86), (7, 4, 0x86)])
    for lap in ride.laps:
        # The stamp of a lap may be far from its end: only start and length count.
        late = round(lap.end) - EPOCH + 900
        length = round(1000 * (lap.end - lap.start))
        body += struct.pack("<BIII", 3, late, int(lap.start) - EPOCH, length)
    header = struct.pack("<BBHI4s", 14, 0x20, 2100, len(body), b".FIT")
    header += struct.pack("<H", checksum(header))
    path.write_bytes(header + body + struct.pack("<H", checksum(header + body)))


def _definition(local: int, message: int, fields, own=()) -> bytes:
    start = struct.pack("<BBBHB", 0x40 | local | (0x20 if own else 0), 0, 0, message, len(fields))
    packed = start + b"".join(struct.pack("<BBB", *one) for one in fields)
    if own:
        packed += struct.pack("<B", len(own)) + b"".join(struct.pack("<BBB", *one) for one in own)
    return packed
