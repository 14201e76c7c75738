"""Cuts the power at every block operation of every write of the store; runs on MicroPython.

Argument: firmware folder. The device is littlefs in memory with the boards' block and programme
sizes (4096, 256). A cut leaves the operation undone ("clean"), partly done ("torn"), or partly done
with garbage for the rest ("wild"); every later operation fails. Then the device is mounted again
and the store read. Prints one JSON document: for each case the cuts, the most operations of one
write, and what was found.
"""

import json
import os
import sys
from array import array

sys.path.insert(0, sys.argv[1])

from twinloop import event_log  # noqa: E402
from twinloop.control import settings as cfg  # noqa: E402
from twinloop.store import STORED, Store  # noqa: E402

BLOCK = 4096
BLOCKS = 32
PROGRAMME = 256
MOUNT = "/cut"
MODES = ("clean", "torn", "wild")
# How far a torn operation gets, in eighths.
PARTS = {"clean": (0,), "torn": (1, 4, 7), "wild": (0, 1, 4, 7)}
# Saves before the cut: at some of these ages littlefs erases and moves blocks.
AGES = range(0, 24)


class CutError(Exception):
    """The power has failed."""


class Flash:
    """A block device that counts its changes and fails at one of them."""

    def __init__(self, data, cut_at=-1, mode="clean", part=0):
        self.data = bytearray(data)
        self.part = part
        self.cut_at = cut_at
        self.mode = mode
        self.done = 0

    def spend(self, begin, content):
        """Perform an operation, unless the power fails in it or has failed before."""
        if self.cut_at >= 0 and self.done >= self.cut_at:
            if self.done == self.cut_at and self.mode != "clean":
                half = len(content) * self.part // 8
                self.data[begin : begin + half] = content[:half]
                if self.mode == "wild":
                    for place in range(begin + half, begin + len(content), 3):
                        self.data[place] = (self.data[place] ^ place * 7) & 255
            self.done += 1
            raise CutError
        self.data[begin : begin + len(content)] = content
        self.done += 1

    def readblocks(self, block, buffer, offset=0):
        begin = block * BLOCK + offset
        buffer[:] = self.data[begin : begin + len(buffer)]

    def writeblocks(self, block, buffer, offset=0):
        self.spend(block * BLOCK + offset, bytes(buffer))

    def ioctl(self, op, argument):
        if op == 4:
            return BLOCKS
        if op == 5:
            return BLOCK
        if op == 6:
            self.spend(argument * BLOCK, b"\xff" * BLOCK)
        return 0


def mounted(flash):
    """A store on this device."""
    os.mount(os.VfsLfs2(flash, progsize=PROGRAMME), MOUNT)
    return Store(MOUNT + "/")


def values_with(start_difference):
    """Settings that can be told apart by number."""
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    values[cfg.START_DIFFERENCE] = start_difference
    return values


def fresh_image(prepare, age=0):
    """The bytes of a device on which the store has worked before."""
    flash = Flash(bytes(BLOCK * BLOCKS))
    os.VfsLfs2.mkfs(flash, progsize=PROGRAMME)
    store = mounted(flash)
    for _ in range(age):
        store.save_settings(values_with(6000))
    prepare(store)
    os.umount(MOUNT)
    return bytes(flash.data)


def prepare(store):
    """Write two more settings, two probe tables, some log, a reset count."""
    for start in (7000, 8000):
        store.save_settings(values_with(start))
    rows = store.load_probes()
    for last in (1, 2):
        rows.assign(1, bytes([0x28, 0, 0, 0, 0, 0, 0, last]))
        store.save_probes(rows)
    store.append_log(event_log.record(event_log.START, 1, 0, 5))
    store.save_resets(1)


def prepare_full_log(store):
    """As prepare, with a full log file."""
    prepare(store)
    for _ in range(5):
        store.append_log(event_log.record(event_log.DUTY_CHANGED, 1, 2, 3) * 49)


def save_settings(store):
    store.load_settings(values_with(0))
    store.save_settings(values_with(9000))


def read_settings(store):
    values = values_with(0)
    source = store.load_settings(values)
    return values[cfg.START_DIFFERENCE] if source == STORED else -1


def save_probes(store):
    rows = store.load_probes()
    rows.assign(1, bytes([0x28, 0, 0, 0, 0, 0, 0, 3]))
    store.save_probes(rows)


def read_probes(store):
    return store.load_probes().rom(1)[7]


def append_log(store):
    store.append_log(event_log.record(event_log.IN_SERVICE, 0, 0, 9) * 2)


def read_log(store):
    return len([1 for event in event_log.records(store.read_log()) if event[0] == event_log.IN_SERVICE])


def keeps_log(store):
    return len(event_log.records(store.read_log()))


def commission(store):
    store.commission()


def read_service(store):
    return int(store.in_service())


def save_resets(store):
    store.save_resets(2)


def read_resets(store):
    return store.resets()


CASES = {
    "settings": (prepare, save_settings, read_settings),
    "probes": (prepare, save_probes, read_probes),
    "log": (prepare, append_log, read_log),
    "log turns over": (prepare_full_log, append_log, keeps_log),
    "service": (prepare, commission, read_service),
    "resets": (prepare, save_resets, read_resets),
}


def unless_cut(work, argument):
    """Work until the power fails; True when it did not."""
    try:
        work(argument)
        return True
    except (CutError, OSError):
        return False


def once(image, work, look, cut_at, mode, part):
    """Work with one cut; returns operations, what is found, and what is found after a retry."""
    flash = Flash(image, cut_at, mode, part)
    store = mounted(flash)
    unless_cut(work, store)
    spent = flash.done
    unless_cut(os.umount, MOUNT)
    again = Flash(flash.data)
    store = mounted(again)
    found = look(store)
    work(mounted_again(again))
    after = look(Store(MOUNT + "/"))
    os.umount(MOUNT)
    return spent, found, after


def mounted_again(flash):
    """The same device after another start."""
    os.umount(MOUNT)
    return mounted(flash)


def all_cuts(case, mode):
    """Try every cut of a case, at every age and part; returns counts of what was found."""
    prepared, work, look = CASES[case]
    report = {"cuts": 0, "operations": 0, "found": {}, "after": {}}
    for age in AGES:
        image = fresh_image(prepared, age)
        for part in PARTS[mode]:
            cut_at = 0
            spent = 1
            while spent >= cut_at:
                spent, seen, later = once(image, work, look, cut_at, mode, part)
                report["found"][seen] = report["found"].get(seen, 0) + 1
                report["after"][later] = report["after"].get(later, 0) + 1
                cut_at += 1
            # The last round finished without a cut.
            report["cuts"] += spent
            report["operations"] = max(report["operations"], spent)
    return report


def bad_store():
    """The negative: a single copy written in place, which some cut tears."""

    def save(store):
        with open(MOUNT + "/settings.a", "r+b") as file:
            for place in range(0, 100, 25):
                file.seek(place)
                file.write(b"xxxxx")
                file.flush()

    def read(store):
        return store.read("settings.a").count(b"xxxxx")

    image = fresh_image(prepare)
    return sorted({once(image, save, read, cut_at, "torn", 4)[1] for cut_at in range(12)})


report = {case + ", " + mode: all_cuts(case, mode) for case in CASES for mode in MODES}
report["negative"] = bad_store()
print(json.dumps(report))
