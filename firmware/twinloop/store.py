"""Settings and the few facts that outlive a power cut, on flash.

Settings are two files, each with a sequence number and a CRC over everything; a save writes the older one, so that a cut at any
moment leaves the other whole. A copy that is not whole, not of these settings, or not an accepted set is as good as none.
"""

import binascii
import os
import struct

from .control import settings as cfg

COPIES = ("settings.a", "settings.b")
SERVICE = "service"
RESETS = "resets"
FAULT = "fault"
FAULT_TOP = 100
SEQUENCE_TOP = 1000000000

STORED = 0
FRESH = 1
BOTH_BAD = 2


def schema_crc():
    """CRC-32 over names, units and order of the settings: who has the same number means the same by each code."""
    crc = 0
    for row in cfg.TABLE:
        crc = binascii.crc32((row[0] + " " + row[1] + ";").encode(), crc)
    return crc & 0xFFFFFFFF


def pack(values, sequence):
    """The bytes of one copy: schema, sequence, values, CRC."""
    body = struct.pack("<II", schema_crc(), sequence)
    for code in range(cfg.SETTINGS):
        body += struct.pack("<i", values[code])
    return body + struct.pack("<I", binascii.crc32(body) & 0xFFFFFFFF)


def unpack(body, values):
    """Fill values from one copy and return its sequence, or -1 when the copy is not to be used; values may be half filled then."""
    if len(body) != 12 + 4 * cfg.SETTINGS or struct.unpack("<I", body[-4:])[0] != binascii.crc32(body[:-4]) & 0xFFFFFFFF:
        return -1
    schema, sequence = struct.unpack("<II", body[:8])
    if schema != schema_crc() or sequence > SEQUENCE_TOP:
        return -1
    for code in range(cfg.SETTINGS):
        values[code] = struct.unpack("<i", body[8 + 4 * code : 12 + 4 * code])[0]
    return sequence if cfg.broken_rule(values) == cfg.RULE_OK else -1


class Store:
    """Files in one folder; `folder` ends with a slash or is empty."""

    def __init__(self, folder):
        self.folder = folder
        self.sequence = 0

    def read(self, name):
        """A file's bytes, or b"" when there is none."""
        try:
            with open(self.folder + name, "rb") as file:
                return file.read()
        except OSError:
            return b""

    def write(self, name, body):
        """Write a whole file."""
        with open(self.folder + name, "wb") as file:
            file.write(body)

    def load_settings(self, values):
        """Fill values with the newest good copy, else with the defaults; returns STORED, FRESH or BOTH_BAD."""
        newest = -1
        seen = 0
        for name in COPIES:
            body = self.read(name)
            seen += len(body)
            sequence = unpack(body, values)
            if sequence > newest:
                newest = sequence
                best = body
        if newest >= 0:
            unpack(best, values)
            self.sequence = newest
            return STORED
        cfg.load_defaults(values)
        self.sequence = 0
        return BOTH_BAD if seen else FRESH

    def save_settings(self, values):
        """Write values as the newest copy over the older one; the caller has validated them."""
        self.sequence += 1
        self.write(COPIES[self.sequence % 2], pack(values, self.sequence))

    def in_service(self):
        """Whether the board was commissioned."""
        return self.read(SERVICE) == b"1"

    def commission(self):
        """From the next step on the board is in service."""
        self.write(SERVICE, b"1")

    def resets(self):
        """Watchdog resets since the last full hour without one."""
        body = self.read(RESETS)
        return body[0] if len(body) == 1 else 0

    def save_resets(self, count):
        """Remember the count; nothing is written when it is the same."""
        if count != self.resets():
            self.write(RESETS, bytes([min(count, 255)]))

    def fault(self):
        """What last ended the loop, as text; empty when nothing ever did."""
        return self.read(FAULT).decode()

    def save_fault(self, text):
        """Remember what ended the loop; nothing is written when it is the same."""
        text = text[:FAULT_TOP]
        if text != self.fault():
            self.write(FAULT, text.encode())


def firmware_hash(folder):
    """First eight hex digits of a SHA-256 over every module below the folder, names and bytes, in order of their names."""
    import hashlib

    digest = hashlib.sha256()
    for name in modules(folder, ""):
        digest.update(name.encode() + b"\n")
        with open(folder + "/" + name, "rb") as file:
            digest.update(file.read())
    return binascii.hexlify(digest.digest()[:4]).decode()


def modules(folder, below):
    """Paths of all modules under the folder, sorted; host-side caches do not count."""
    found = []
    for name in sorted(os.listdir(folder + below)):
        path = below + "/" + name
        if name.endswith(".py") or name.endswith(".mpy"):
            found.append(path[1:])
        elif "." not in name and name != "__pycache__":
            found += modules(folder, path)
    return found
