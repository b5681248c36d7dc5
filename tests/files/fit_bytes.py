"""Smallest encoder of the public FIT protocol: header, one definition, data, checksum."""

import struct

SEMICIRCLES = 2**31 / 180.0
CRC_TABLE = (
    0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
    0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
)  # fmt: skip
RECORD = 20
UINT16, UINT32, SINT32 = 0x84, 0x86, 0x85
FIELDS = {
    "timestamp": (253, 4, UINT32, "I", 0xFFFFFFFF),
    "position_lat": (0, 4, SINT32, "i", 0x7FFFFFFF),
    "position_long": (1, 4, SINT32, "i", 0x7FFFFFFF),
    "altitude": (2, 2, UINT16, "H", 0xFFFF),
    "enhanced_altitude": (78, 4, UINT32, "I", 0xFFFFFFFF),
}


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
    return round((value + 500) * 5) if "altitude" in name else value


def fit_file(records, fields=("timestamp", "position_lat", "position_long", "enhanced_altitude")):
    """Bytes of a file with one record message for each tuple; None is the invalid value."""
    definition = struct.pack("<BBBHB", 0x40, 0, 0, RECORD, len(fields))
    for name in fields:
        definition += struct.pack("<BBB", *FIELDS[name][:3])
    layout = "<B" + "".join(FIELDS[name][3] for name in fields)
    data = b"".join(
        struct.pack(layout, 0, *(raw(name, value) for name, value in zip(fields, row, strict=True)))
        for row in records
    )
    body = definition + data
    header = struct.pack("<BBHI4s", 14, 0x10, 2100, len(body), b".FIT")
    header += struct.pack("<H", checksum(header))
    return header + body + struct.pack("<H", checksum(header + body))
