"""Smallest encoder of the public FIT protocol: header, one definition, data, checksum."""

import struct

SEMICIRCLES = 2**31 / 180.0
CRC_TABLE = (
    0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
    0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
)  # fmt: skip
RECORD, SESSION, LAP = 20, 18, 19
SPORTS = {"running": 1, "cycling": 2, "swimming": 5}
UINT16, UINT32, SINT32 = 0x84, 0x86, 0x85
FIELDS = {
    "timestamp": (253, 4, UINT32, "I", 0xFFFFFFFF),
    "position_lat": (0, 4, SINT32, "i", 0x7FFFFFFF),
    "position_long": (1, 4, SINT32, "i", 0x7FFFFFFF),
    "altitude": (2, 2, UINT16, "H", 0xFFFF),
    "enhanced_altitude": (78, 4, UINT32, "I", 0xFFFFFFFF),
    "power": (7, 2, UINT16, "H", 0xFFFF),
    "speed": (6, 2, UINT16, "H", 0xFFFF),
    "distance": (5, 4, UINT32, "I", 0xFFFFFFFF),
    "start_time": (2, 4, UINT32, "I", 0xFFFFFFFF),
    "sport": (5, 1, 0x00, "B", 0xFF),
    "total_elapsed_time": (7, 4, UINT32, "I", 0xFFFFFFFF),
    "total_distance": (9, 4, UINT32, "I", 0xFFFFFFFF),
    "total_ascent": (22, 2, UINT16, "H", 0xFFFF),
}
SCALES = {"speed": 1000, "distance": 100, "total_distance": 100, "total_elapsed_time": 1000}
SESSION_FIELDS = ("start_time", "sport", "total_elapsed_time", "total_distance", "total_ascent")


def checksum(content):
    crc = 0
    for byte in content:
        for nibble in (byte & 0xF, byte >> 4):
            crc = (crc >> 4) & 0x0FFF ^ CRC_TABLE[crc & 0xF] ^ CRC_TABLE[nibble]
    return crc


def raw(name, value):
    if value is None:
        return FIELDS[name][4]
    if name.startswith("position"):
        return round(value * SEMICIRCLES)
    if name == "sport":
        return SPORTS[value]
    return round((value + 500) * 5) if "altitude" in name else round(value * SCALES.get(name, 1))


def messages(local, number, rows, fields):
    """A definition and one message for each tuple; None is the invalid value."""
    definition = struct.pack("<BBBHB", 0x40 | local, 0, 0, number, len(fields))
    for name in fields:
        definition += struct.pack("<BBB", *FIELDS[name][:3])
    layout = "<B" + "".join(FIELDS[name][3] for name in fields)
    return definition + b"".join(struct.pack(layout, local, *map(raw, fields, row)) for row in rows)


def fit_file(
    records,
    fields=("timestamp", "position_lat", "position_long", "enhanced_altitude"),
    sessions=(),
    session_fields=SESSION_FIELDS,
    laps=(),
):
    """Bytes of a file with one message for each record, session and lap (start, length)."""
    body = messages(0, RECORD, records, fields)
    if sessions:
        body += messages(1, SESSION, sessions, session_fields)
    if laps:
        body += messages(2, LAP, laps, ("start_time", "total_elapsed_time"))
    header = struct.pack("<BBHI4s", 14, 0x10, 2100, len(body), b".FIT")
    header += struct.pack("<H", checksum(header))
    return header + body + struct.pack("<H", checksum(header + body))
