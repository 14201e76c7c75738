"""Settings, and the few facts that outlive a power cut, on flash.

Settings are two files, each with a sequence number and a CRC over everything. A save replaces the
older one, so a cut at any moment leaves the other whole. A copy that is torn, belongs to other
settings or is not an accepted set is ignored.
"""

import binascii
import os
import struct

from .control import settings as cfg
from .control import state as s

COPIES = ("settings.a", "settings.b")
PROBE_COPIES = ("probes.a", "probes.b")
LOGS = ("log.a", "log.b")
# Bytes in one log file; a full one replaces the older file, and a new one begins.
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
    """CRC-32 over names, units and order of the settings: equal numbers mean equal codes."""
    crc = 0
    for row in cfg.TABLE:
        crc = binascii.crc32((row[0] + " " + row[1] + ";").encode(), crc)
    return crc & 0xFFFFFFFF


def sealed(body):
    """Bytes followed by their CRC."""
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
    """Fill values from one copy and return its sequence, or -1 if the copy is not usable.

    Values may be half filled then.
    """
    if not whole(body, 12 + 4 * cfg.SETTINGS):
        return -1
    schema, sequence = struct.unpack("<II", body[:8])
    if schema != schema_crc() or sequence > SEQUENCE_TOP:
        return -1
    for code in range(cfg.SETTINGS):
        values[code] = struct.unpack("<i", body[8 + 4 * code : 12 + 4 * code])[0]
    return sequence if cfg.broken_rule(values) == cfg.RULE_OK else -1


class ProbeRows:
    """Which chip is which sensor: per sensor a ROM code of eight bytes and two offsets in mK.

    The offsets are the one in force and the one before it. A sensor that is not a DS18B20 has no
    ROM code, all zeros, but may have an offset.
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
        """Give a sensor a chip, and take that chip from any other; a new chip has no offset yet."""
        for other in range(s.SENSORS):
            if self.rom(other) == rom:
                self.clear(other)
        self.clear(sensor)
        self.body[self.ROW * sensor : self.ROW * sensor + 8] = rom

    def clear(self, sensor):
        """Remove chip and offsets."""
        self.body[self.ROW * sensor : self.ROW * sensor + self.ROW] = bytes(self.ROW)

    def set_offset(self, sensor, offset_mk):
        """Set a new offset, and keep the one in force until now for undo."""
        struct.pack_into("<ii", self.body, self.ROW * sensor + 8, offset_mk, self.offsets_mk(sensor)[0])


def probe_rows(body=None):
    """The rows in these bytes, or rows without any chip."""
    return ProbeRows(bytearray(ProbeRows.ROW * s.SENSORS) if body is None else bytearray(body))


def unpack_probes(body):
    """Sequence and rows of one copy; sequence -1 if it is not usable."""
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
        """A file's bytes, or b"" if there is none."""
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
        """Fill values with the newest good copy, or with the defaults.

        Returns STORED, FRESH or BOTH_BAD.
        """
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
        """Write values as the newest copy over the older one. The caller has validated them."""
        self.sequence += 1
        self.write(COPIES[self.sequence % 2], pack(values, self.sequence))

    def load_probes(self):
        """The newest good copy of the probe rows, or rows without any chip."""
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
        """Append whole records to the log.

        When the newer file is full, it replaces the older one, whose records go.
        """
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
        """The whole log, oldest first; the reader skips records torn by a power cut."""
        return self.read(LOGS[1]) + self.read(LOGS[0])

    def in_service(self):
        """Whether the board was commissioned."""
        return self.read(SERVICE) == b"1"

    def commission(self):
        """Write the flag that puts the board in service."""
        self.write(SERVICE, b"1")

    def confirm(self):
        """End the trial: main.py need not roll this firmware back."""
        try:
            os.remove(TRIAL)
        except OSError:
            pass

    def ask_prompt(self, seconds):
        """Leave a request beside main.py, which then opens the prompt once."""
        with open(PROMPT, "w") as file:
            file.write(str(seconds))

    def resets(self):
        """Restarts other than power-on, since the last full hour without one."""
        body = self.read(RESETS)
        return body[0] if len(body) == 1 else 0

    def save_resets(self, count):
        """Remember the count; an unchanged one is not written."""
        if count != self.resets():
            self.write(RESETS, bytes([min(count, 255)]))

    def fault(self):
        """What last ended the loop, as text; empty if nothing did.

        Bytes that are not text read as question marks.
        """
        return "".join([chr(byte) if 32 <= byte < 127 else "?" for byte in self.read(FAULT)[:FAULT_TOP]])

    def save_fault(self, text):
        """Remember what ended the loop; an unchanged text is not written."""
        text = text[:FAULT_TOP]
        if text != self.fault():
            self.write(FAULT, text.encode())


def firmware_hash(folder):
    """First eight hex digits of a SHA-256 over names and bytes of every module below the folder.

    The modules are taken in order of their names.
    """
    import hashlib

    digest = hashlib.sha256()
    for name in modules(folder, ""):
        digest.update(name.encode() + b"\n")
        with open(folder + "/" + name, "rb") as file:
            digest.update(file.read())
    return binascii.hexlify(digest.digest()[:4]).decode()


def modules(folder, below):
    """Paths of all modules below the folder, sorted, without host-side caches."""
    found = []
    for name in sorted(os.listdir(folder + below)):
        path = below + "/" + name
        if name.endswith(".py") or name.endswith(".mpy"):
            found.append(path[1:])
        elif "." not in name and name != "__pycache__":
            found += modules(folder, path)
    return found
