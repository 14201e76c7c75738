"""Settings and the few facts that outlive a power cut, on flash.

Settings are two files, each with a sequence number and a CRC over everything; a save writes the older one, so that a cut at any
moment leaves the other whole. A copy that is not whole, not of these settings, or not an accepted set is as good as none.
"""

import binascii
import os
import struct

from .control import settings as cfg
from .control import state as s

COPIES = ("settings.a", "settings.b")
PROBE_COPIES = ("probes.a", "probes.b")
LOGS = ("log.a", "log.b")
# Bytes of one log file; when it is full the other one is begun anew.
LOG_TOP = 3000
SERVICE = "service"
RESETS = "resets"
FAULT = "fault"
PROMPT = "prompt"
TRIAL = "trial"
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


def sealed(body):
    """Bytes with their CRC behind them."""
    return body + struct.pack("<I", binascii.crc32(body) & 0xFFFFFFFF)


def whole(body, length):
    """Whether bytes have this length and the right CRC at their end."""
    return len(body) == length and struct.unpack("<I", body[-4:])[0] == binascii.crc32(body[:-4]) & 0xFFFFFFFF


def pack(values, sequence):
    """The bytes of one copy: schema, sequence, values, CRC."""
    body = struct.pack("<II", schema_crc(), sequence)
    for code in range(cfg.SETTINGS):
        body += struct.pack("<i", values[code])
    return sealed(body)


def unpack(body, values):
    """Fill values from one copy and return its sequence, or -1 when the copy is not to be used; values may be half filled then."""
    if not whole(body, 12 + 4 * cfg.SETTINGS):
        return -1
    schema, sequence = struct.unpack("<II", body[:8])
    if schema != schema_crc() or sequence > SEQUENCE_TOP:
        return -1
    for code in range(cfg.SETTINGS):
        values[code] = struct.unpack("<i", body[8 + 4 * code : 12 + 4 * code])[0]
    return sequence if cfg.broken_rule(values) == cfg.RULE_OK else -1


class ProbeRows:
    """Which chip is which sensor: a ROM code of eight bytes, the offset in force and the one before it, in mK, a row a sensor.

    A sensor that is not a DS18B20 has no ROM code, all zeros, but may have an offset.
    """

    ROW = 16

    def __init__(self, body):
        self.body = body

    def rom(self, sensor):
        """A sensor's ROM code; eight zeros for none."""
        return bytes(self.body[self.ROW * sensor : self.ROW * sensor + 8])

    def offsets_mk(self, sensor):
        """The offset in force, and the one before it."""
        return struct.unpack_from("<ii", self.body, self.ROW * sensor + 8)

    def assign(self, sensor, rom):
        """Give a sensor a chip, and take that chip from whoever had it; a new chip has no offset yet."""
        for other in range(s.SENSORS):
            if self.rom(other) == rom:
                self.clear(other)
        self.clear(sensor)
        self.body[self.ROW * sensor : self.ROW * sensor + 8] = rom

    def clear(self, sensor):
        """No chip and no offset."""
        self.body[self.ROW * sensor : self.ROW * sensor + self.ROW] = bytes(self.ROW)

    def set_offset(self, sensor, offset_mk):
        """A new offset; the one in force until now is kept for going back."""
        struct.pack_into("<ii", self.body, self.ROW * sensor + 8, offset_mk, self.offsets_mk(sensor)[0])


def probe_rows(body=None):
    """The rows of these bytes, or rows without any chip."""
    return ProbeRows(bytearray(ProbeRows.ROW * s.SENSORS) if body is None else bytearray(body))


def unpack_probes(body):
    """Sequence and rows of one copy, sequence -1 when it is not to be used."""
    if not whole(body, 8 + ProbeRows.ROW * s.SENSORS):
        return -1, None
    return struct.unpack("<I", body[:4])[0], probe_rows(body[4:-4])


class Store:
    """Files in one folder; `folder` ends with a slash or is empty."""

    def __init__(self, folder):
        self.folder = folder
        self.sequence = 0
        self.probes_sequence = 0

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
        best = b""
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

    def load_probes(self):
        """The newest good copy of the probe rows, else rows without any chip."""
        newest = probe_rows()
        self.probes_sequence = 0
        for name in PROBE_COPIES:
            sequence, rows = unpack_probes(self.read(name))
            if sequence > self.probes_sequence:
                self.probes_sequence = sequence
                newest = rows
        return newest

    def save_probes(self, rows):
        """Write the probe rows as the newest copy over the older one."""
        self.probes_sequence += 1
        body = struct.pack("<I", self.probes_sequence) + bytes(rows.body)
        self.write(PROBE_COPIES[self.probes_sequence % 2], sealed(body))

    def append_log(self, body):
        """Add whole records to the log: two files in turn, so that the older half goes when there is no more room."""
        path = self.folder + LOGS[0]
        try:
            full = os.stat(path)[6] + len(body) > LOG_TOP
        except OSError:
            full = False
        if full:
            os.rename(path, self.folder + LOGS[1])
        with open(path, "ab") as file:
            file.write(body)

    def read_log(self):
        """All of the log, the oldest first; a record torn by a power cut is for the reader to pass over."""
        return self.read(LOGS[1]) + self.read(LOGS[0])

    def in_service(self):
        """Whether the board was commissioned."""
        return self.read(SERVICE) == b"1"

    def commission(self):
        """From the next step on the board is in service."""
        self.write(SERVICE, b"1")

    def confirm(self):
        """The firmware works: main.py need not give it up."""
        try:
            os.remove(TRIAL)
        except OSError:
            pass

    def ask_prompt(self, seconds):
        """main.py finds this beside itself and opens the prompt once."""
        with open(PROMPT, "w") as file:
            file.write(str(seconds))

    def resets(self):
        """Watchdog resets since the last full hour without one."""
        body = self.read(RESETS)
        return body[0] if len(body) == 1 else 0

    def save_resets(self, count):
        """Remember the count; nothing is written when it is the same."""
        if count != self.resets():
            self.write(RESETS, bytes([min(count, 255)]))

    def fault(self):
        """What last ended the loop, as text; empty when nothing ever did. Bytes that are not text read as question marks."""
        return "".join([chr(byte) if 32 <= byte < 127 else "?" for byte in self.read(FAULT)[:FAULT_TOP]])

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
