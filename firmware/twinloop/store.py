"""Settings, meters and the few facts that outlive a power cut, on flash.

Settings, sensors and meters are two files each (`Pair`). Settings are stored by code and sensors by
number, so they survive an update and going back: what is missing takes its default, and what this
firmware does not know is kept and written again with each save. The other files are written beside
the old one and renamed.

A flash that refuses a write raises nothing. It is counted, the caller gets False, and `failing` is
1, which is an alarm, until a write succeeds.

Writes a day between two starts: the log as in event_log.py, the meters 24, the count of starts 2.
All else is written by a call or at a start.
"""

import binascii
import os
import struct

from .control import settings as cfg
from .control import state as s

COPIES = ("settings.a", "settings.b")
PROBE_COPIES = ("probes.a", "probes.b")
METER_COPIES = ("meter.a", "meter.b")
LOGS = ("log.a", "log.b")
# Bytes in one log file; a full one replaces the older file, and a new one begins.
LOG_TOP = 3000
# Settings and probe rows that are to replace the stored ones together.
RESTORE = "restore"
SERVICE = "service"
RESETS = "resets"
FAULT = "fault"
# These three lie beside main.py, which reads them.
PROMPT = "prompt"
PLANNED = "planned"
TRIAL = "trial"
FAULT_TOP = 100
HASHED_AT_ONCE = 512
SEQUENCE_TOP = 1000000000
# Groups of the meter's totals: number on flash, first word, words. Append, never renumber.
TOTALS = (
    (1, s.ON_S, s.OUTPUTS),
    (2, s.STARTS, s.OUTPUTS),
    (3, s.DUTY_S, s.DUTIES),
    (4, s.STAGNATION_S, 1),
    (5, s.HEAT_WH, 1),
    (6, s.DUMPED_WH, 1),
    (7, s.SINCE_HOT_S, 1),
    (8, s.FILTER_S, 1),
)

STORED = 0
FRESH = 1
UNUSABLE = 2
# Why a setting has its default.
MISSING = 0
OUT_OF_RANGE = 1
ENOENT = 2
EIO = 5


def schema_crc():
    """CRC-32 over names, units and order of the settings: equal numbers mean equal codes."""
    crc = 0
    for row in cfg.TABLE:
        crc = binascii.crc32((row[0] + " " + row[1] + ";").encode(), crc)
    return crc & 0xFFFFFFFF


SCHEMA_CRC = schema_crc()


def sealed(body):
    """Bytes followed by their CRC."""
    return body + struct.pack("<I", binascii.crc32(body) & 0xFFFFFFFF)


def whole(body, length):
    """Whether bytes have this length and the right CRC at their end."""
    return len(body) == length and struct.unpack("<I", body[-4:])[0] == binascii.crc32(body[:-4]) & 0xFFFFFFFF


def pack(values, sequence):
    """The bytes of one copy: schema, sequence, values, CRC."""
    body = struct.pack("<II", SCHEMA_CRC, sequence)
    for code in range(cfg.SETTINGS):
        body += struct.pack("<i", values[code])
    return sealed(body)


def fill(path, body):
    """Write a whole file. Raises OSError unless it reads back the same."""
    with open(path, "wb") as file:
        file.write(body)
    with open(path, "rb") as file:
        if file.read() != body:
            raise OSError(EIO)


def append(path, body):
    """Append to a file."""
    with open(path, "ab") as file:
        file.write(body)


class Pair:
    """Two copies of one thing, each with a sequence number and a CRC over everything.

    A save never writes the newest good copy: a cut or a refusal at any moment leaves that one.
    `head` is the number of bytes before the content; the sequence is the last four of them.
    """

    def __init__(self, store, names, head):
        self.store = store
        self.names = names
        self.head = head
        self.sequence = 0
        self.newest = 0
        self.seen = 0

    def sequence_of(self, body):
        """The sequence of a whole copy, otherwise 0."""
        if len(body) < self.head + 4 or not whole(body, len(body)):
            return 0
        sequence = struct.unpack_from("<I", body, self.head - 4)[0]
        return sequence if sequence <= SEQUENCE_TOP else 0

    def good(self):
        """How many of the two copies are whole."""
        return sum([1 for name in self.names if self.sequence_of(self.store.read(name))])

    def load(self):
        """The content of the newest good copy, b"" without one; `seen`: whether there was any."""
        content = b""
        self.sequence = 0
        self.seen = 0
        for place in (0, 1):
            body = self.store.read(self.names[place])
            self.seen += len(body)
            sequence = self.sequence_of(body)
            if sequence > self.sequence:
                self.sequence = sequence
                self.newest = place
                content = body[self.head : -4]
        return content

    def save(self, content, word=b""):
        """Write this over the other copy, which is then the newest; False if the flash refuses."""
        path = self.store.folder + self.names[1 - self.newest]
        body = sealed(word + struct.pack("<I", self.sequence + 1) + content)
        if not self.store.change(fill, path, body):
            # What could not be read back must not turn up whole at the next start.
            self.store.remove(path)
            return False
        self.newest = 1 - self.newest
        self.sequence += 1
        return True


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
        if self.rom(sensor) == rom:
            return
        for other in range(len(self.body) // self.ROW):
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


def probe_rows(body=b""):
    """The rows in these bytes; a sensor without a row has no chip, a row without a sensor stays."""
    rows = bytearray(max(len(body), ProbeRows.ROW * s.SENSORS))
    rows[: len(body)] = body
    return ProbeRows(rows)


class Store:
    """Files in one folder; `folder` ends with a slash or is empty."""

    def __init__(self, folder):
        self.folder = folder
        self.failing = 0
        self.failures = 0
        self.settings = Pair(self, COPIES, 8)
        self.probes = Pair(self, PROBE_COPIES, 4)
        self.meter = Pair(self, METER_COPIES, 4)
        # Codes that have their default although settings are stored, with the cause.
        self.defaulted = []
        # What this firmware has no use for: settings of higher codes, and groups of totals.
        self.spare = b""
        self.groups = {}

    @property
    def sequence(self):
        """The sequence of the stored settings."""
        return self.settings.sequence

    def refused(self):
        """Count a refusal of the flash, and remember that it refuses."""
        self.failing = 1
        self.failures += 1

    def change(self, work, *arguments):
        """Change the flash; False when it refuses."""
        try:
            work(*arguments)
        except OSError:
            self.refused()
            return False
        self.failing = 0
        return True

    def remove(self, path):
        """Remove a file; True if it was there and is gone."""
        try:
            os.remove(path)
        except OSError as fault:
            if fault.args[0] != ENOENT:
                self.refused()
            return False
        return True

    def read(self, name):
        """A file's bytes, or b"" if there is none."""
        try:
            with open(self.folder + name, "rb") as file:
                return file.read()
        except OSError as fault:
            if fault.args[0] != ENOENT:
                self.refused()
            return b""

    def write(self, path, body):
        """Replace a whole file, which a cut leaves old or new; False when the flash refuses."""
        return self.change(fill, path + ".new", body) and self.change(os.rename, path + ".new", path)

    def load_settings(self, values):
        """Fill values by code with the newest good copy; what it lacks takes its default.

        So does a value out of its range. Both are listed in `defaulted`. Returns STORED, FRESH, or
        UNUSABLE: no copy is good or readable, the set breaks a rule, or a value is out of range.
        """
        content = self.settings.load()
        pending = self.pending()
        if pending is not None:
            content = pending[0]
        self.spare = content[4 * cfg.SETTINGS :]
        self.defaulted = []
        cfg.load_defaults(values)
        if not content:
            return UNUSABLE if self.settings.seen or self.failing else FRESH
        for code in range(cfg.SETTINGS):
            if 4 * code + 4 > len(content):
                self.defaulted.append((code, MISSING))
                continue
            value = struct.unpack_from("<i", content, 4 * code)[0]
            if cfg.LOWEST[code] <= value <= cfg.HIGHEST[code]:
                values[code] = value
            else:
                self.defaulted.append((code, OUT_OF_RANGE))
        if cfg.broken_rule(values) == cfg.RULE_OK:
            return UNUSABLE if self.refuses_stored() else STORED
        self.defaulted = []
        cfg.load_defaults(values)
        return UNUSABLE

    def refuses_stored(self):
        """Whether a stored value is out of its range here; another version may know it."""
        for _, cause in self.defaulted:
            if cause == OUT_OF_RANGE:
                return True
        return False

    def save_settings(self, values):
        """Write values as the newest copy; False if the flash refuses. The caller has validated."""
        word = struct.pack("<I", SCHEMA_CRC)
        done = self.finish_restore() and self.settings.save(self.content(values), word)
        if done:
            self.defaulted = []
        return done

    def content(self, values):
        """The bytes of all settings, with those that this firmware does not know."""
        return pack(values, 0)[8:-4] + self.spare

    def load_probes(self):
        """The probe rows of the newest good copy, or rows without any chip."""
        content = self.probes.load()
        pending = self.pending()
        return probe_rows(content if pending is None else pending[1])

    def save_probes(self, rows):
        """Write the probe rows as the newest copy; False if the flash refuses."""
        return self.finish_restore() and self.probes.save(bytes(rows.body))

    def restore(self, values, rows):
        """Replace settings and probe rows together; False, and nothing changed, if it is refused.

        Both are first written to one file. From then on they are in force: what a cut or a refusal
        leaves undone is done at the next start, or before the next save.
        """
        content = self.content(values)
        body = struct.pack("<H", len(content)) + content + bytes(rows.body)
        if not self.finish_restore() or not self.write(self.folder + RESTORE, sealed(body)):
            return False
        self.finish_restore()
        self.defaulted = []
        return True

    def pending(self):
        """Settings and probe rows of a restore that is not finished, or None."""
        body = self.read(RESTORE)
        if len(body) < 6 or not whole(body, len(body)):
            return None
        end = 2 + struct.unpack_from("<H", body, 0)[0]
        return body[2:end], body[end:-4]

    def finish_restore(self):
        """Finish a restore; False while the flash refuses. The present copies have been loaded."""
        pending = self.pending()
        if pending is None:
            return True
        done = self.settings.save(pending[0], struct.pack("<I", SCHEMA_CRC)) and self.probes.save(pending[1])
        return done and self.remove(self.folder + RESTORE)

    def load_meter(self, state):
        """Put the stored totals into the state."""
        content = self.meter.load()
        self.groups = {}
        place = 0
        while place + 2 <= len(content):
            end = place + 2 + 4 * content[place + 1]
            self.groups[content[place]] = content[place + 2 : end]
            place = end
        for number, first, words in TOTALS:
            kept = self.groups.get(number, b"")
            for word in range(min(words, len(kept) // 4)):
                state[first + word] = struct.unpack_from("<i", kept, 4 * word)[0]

    def save_meter(self, meter):
        """Write the totals; False if the flash refuses. `meter` is the state from METER_MS on."""
        for number, first, words in TOTALS:
            first -= s.METER_MS
            body = bytes(meter[first : first + words])
            self.groups[number] = body + self.groups.get(number, b"")[len(body) :]
        content = b""
        for number in sorted(self.groups):
            content += bytes([number, len(self.groups[number]) // 4]) + self.groups[number]
        return self.meter.save(content)

    def append_log(self, body):
        """Append whole records to the log; False when the flash refuses.

        When the newer file is full, it replaces the older one, whose records go.
        """
        path = self.folder + LOGS[0]
        try:
            full = os.stat(path)[6] + len(body) > LOG_TOP
        except OSError:
            full = False
        if full and not self.change(os.rename, path, self.folder + LOGS[1]):
            return False
        return self.change(append, path, body)

    def read_log(self):
        """The whole log, oldest first; the reader skips records torn by a power cut."""
        return self.read(LOGS[1]) + self.read(LOGS[0])

    def in_service(self):
        """Whether the board was commissioned: the flag is there, even if nobody can read it."""
        try:
            os.stat(self.folder + SERVICE)
        except OSError as fault:
            return fault.args[0] != ENOENT
        return True

    def commission(self):
        """Write the flag that puts the board in service; False if the flash refuses."""
        return self.in_service() or self.write(self.folder + SERVICE, b"1")

    def confirm(self, values):
        """Keep this firmware: end its trial, and save the settings that defaults completed.

        A stored value that is out of range stays on flash until somebody commits.
        """
        self.remove(TRIAL)
        if self.defaulted and not self.refuses_stored():
            self.save_settings(values)

    def ask_prompt(self, seconds):
        """Leave a request for main.py, which grants it once; False if the flash refuses."""
        return self.write(PROMPT, str(seconds).encode())

    def plan(self):
        """Leave the mark of a restart that is planned, and does not count."""
        self.change(fill, PLANNED, b"")

    def take_planned(self):
        """Whether this start was planned. The mark must go: it stands for one start.

        So must a request for the prompt that main.py could not grant: its host is gone.
        """
        self.remove(PROMPT)
        return self.remove(PLANNED)

    def resets(self):
        """Two bytes: the starts that count, and whether something has moved since the last of them.

        An earlier version wrote the count alone.
        """
        return (self.read(RESETS) + b"\0\0")[:2]

    def save_resets(self, count, moved):
        """Remember the two, if they changed; False when the flash refuses."""
        body = bytes([min(count, 255), moved])
        return body == self.resets() or self.write(self.folder + RESETS, body)

    def fault(self):
        """What last ended the loop, as text; empty if nothing did.

        Bytes that are not text read as question marks.
        """
        return "".join([chr(byte) if 32 <= byte < 127 else "?" for byte in self.read(FAULT)[:FAULT_TOP]])

    def save_fault(self, text):
        """Remember what ended the loop; an unchanged text is not written."""
        text = text[:FAULT_TOP]
        if text != self.fault():
            self.write(self.folder + FAULT, text.encode())


def firmware_hash(folder):
    """First eight hex digits of a SHA-256 over names and bytes of every module below the folder.

    The modules are taken in order of their names.
    """
    import hashlib

    digest = hashlib.sha256()
    buffer = bytearray(HASHED_AT_ONCE)
    for name in modules(folder, ""):
        digest.update(name.encode() + b"\n")
        with open(folder + "/" + name, "rb") as file:
            size = file.readinto(buffer)
            while size:
                digest.update(memoryview(buffer)[:size])
                size = file.readinto(buffer)
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
