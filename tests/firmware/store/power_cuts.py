"""Cuts the power at every block operation of every write of the firmware; runs on MicroPython.

Argument: firmware folder. The device is littlefs in memory with the boards' block and programme
sizes (4096, 256). A cut leaves the operation undone ("clean"), partly done ("torn"), or partly done
with garbage for the rest ("wild"); every later operation fails. Then the device is mounted again
and the store read. What main.py writes is cut in the same way. Prints one JSON document: for each
case the cuts, the most operations of one write, and what was found; and how often each kind of
write erases a block. With a fourth argument: clean cuts of this case only.
"""

import json
import os
import sys
from array import array

sys.path.insert(0, sys.argv[1])


class Machine:
    """The chip, for main.py: a restart does nothing here."""

    @staticmethod
    def reset():
        pass


sys.modules["machine"] = Machine

from twinloop import event_log  # noqa: E402
from twinloop.control import settings as cfg  # noqa: E402
from twinloop.control import state as s  # noqa: E402
from twinloop.store import STORED, Store, probe_rows  # noqa: E402

# Only the functions of main.py: its last lines would start the station.
starter = {}
with open(sys.argv[1] + "/main.py") as file:
    exec(file.read().split("\nstay = False")[0], starter)

BLOCK = 4096
BLOCKS = 32
PROGRAMME = 256
MOUNT = "/cut"
MODES = ("clean", "torn", "wild")
# How far a torn operation gets, in eighths.
PARTS = {"clean": (0,), "torn": (1, 4, 7), "wild": (0, 1, 4, 7)}
# How often a file of the case was written before: at some ages littlefs erases and moves blocks.
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
        self.erased = 0

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
            self.erased += 1
            self.spend(argument * BLOCK, b"\xff" * BLOCK)
        return 0


def mounted(flash):
    """A store on this device."""
    os.mount(os.VfsLfs2(flash, progsize=PROGRAMME), MOUNT)
    os.chdir(MOUNT)
    return Store(MOUNT + "/")


def values_with(start_difference):
    """Settings that can be told apart by number."""
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    values[cfg.START_DIFFERENCE] = start_difference
    return values


def fresh_image(prepare, aged, age=0):
    """The bytes of a device on which the store has worked before."""
    flash = Flash(bytes(BLOCK * BLOCKS))
    os.VfsLfs2.mkfs(flash, progsize=PROGRAMME)
    store = mounted(flash)
    prepare(store)
    for _ in range(age):
        with open(aged, "rb") as file:
            body = file.read()
        with open(aged, "wb") as file:
            file.write(body)
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
    for hours in (1, 2):
        save_meter_of(store, hours)
    store.append_log(event_log.record(event_log.START, 1, 0, 5))
    store.save_resets(1, 0)
    store.save_fault("old")
    for name, text in (("active", "b\na\n"), ("trial", "2"), ("prompt", "60")):
        put(name, text)


def prepare_full_log(store):
    """As prepare, with a full log file."""
    prepare(store)
    for _ in range(5):
        store.append_log(event_log.record(event_log.DUTY_CHANGED, 1, 2, 3) * 49)


def put(name, text):
    with open(MOUNT + "/" + name, "w") as file:
        file.write(text)


def look_at(name):
    """The lines of one of main.py's files, with slashes between them; "-" without the file."""
    return "/".join(starter["read_lines"](MOUNT + "/" + name)) or "-"


def prepare_last_trial(store):
    """As prepare, with a firmware that has used up its trial."""
    prepare(store)
    put("trial", "0")


def prepare_later_version(store):
    """As prepare, after a later firmware that has one more setting and one more sensor."""
    prepare(store)
    store.spare = b"\x2a\x00\x00\x00"
    store.save_settings(values_with(8000))
    store.save_probes(probe_rows(bytes(store.load_probes().body) + b"ninth..." + bytes(8)))


def prepare_earlier_version(store):
    """As prepare, after an earlier firmware that lacked the last setting."""
    prepare(store)
    store.settings.save(bytes(values_with(8000)[:-1]), b"    ")


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


def restore(store):
    values = values_with(0)
    store.load_settings(values)
    rows = store.load_probes()
    store.finish_restore()
    values[cfg.START_DIFFERENCE] = 9000
    rows.assign(1, bytes([0x28, 0, 0, 0, 0, 0, 0, 3]))
    store.restore(values, rows)


def read_restored(store):
    return str(read_settings(store)) + " " + str(read_probes(store))


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
    store.save_resets(1, 1)


def read_resets(store):
    return "{}{}".format(*store.resets())


def save_later_version(store):
    save_settings(store)
    save_probes(store)


def read_later_version(store):
    """Whether what the later firmware stored is whole."""
    read_settings(store)
    return int(store.spare == b"\x2a\x00\x00\x00" and store.load_probes().rom(s.SENSORS) == b"ninth...")


def confirm(store):
    values = values_with(0)
    store.load_settings(values)
    store.confirm(values)


def read_confirmed(store):
    """How many settings are missing, and whether the trial is over."""
    start = read_settings(store)
    return " ".join([str(start), str(len(store.defaulted)), look_at("trial")])


def save_meter_of(store, hours):
    state = array("i", [3600 * hours] * s.STATE)
    store.save_meter(state[s.METER_MS :])


def save_meter(store):
    store.load_meter(array("i", [0] * s.STATE))
    save_meter_of(store, 3)


def read_meter(store):
    state = array("i", [0] * s.STATE)
    store.load_meter(state)
    return state[s.HEAT_WH] // 3600 if state[s.HEAT_WH] == state[s.ON_S] else -1


def save_fault(store):
    store.save_fault("new")


def read_fault(store):
    return store.fault()


def ask_prompt(store):
    store.ask_prompt(900)


def read_prompt(store):
    return look_at("prompt")


def grant(store):
    starter["asked_for_prompt"]()


def read_grant(store):
    return look_at("prompt") + " " + look_at("planned")


def count_down(store):
    starter["on_trial"]()


def read_trial(store):
    return look_at("active") + " " + look_at("trial")


CASES = {
    "settings": (prepare, save_settings, read_settings, "settings.a"),
    "probes": (prepare, save_probes, read_probes, "probes.a"),
    "restore": (prepare, restore, read_restored, "settings.a"),
    "log": (prepare, append_log, read_log, "log.a"),
    "log turns over": (prepare_full_log, append_log, keeps_log, "log.a"),
    "service": (prepare, commission, read_service, "resets"),
    "resets": (prepare, save_resets, read_resets, "resets"),
    "later version": (prepare_later_version, save_later_version, read_later_version, "settings.a"),
    "earlier version": (prepare_earlier_version, confirm, read_confirmed, "settings.a"),
    "meter": (prepare, save_meter, read_meter, "meter.a"),
    "fault": (prepare, save_fault, read_fault, "fault"),
    "prompt asked": (prepare, ask_prompt, read_prompt, "prompt"),
    "prompt granted": (prepare, grant, read_grant, "prompt"),
    "trial": (prepare, count_down, read_trial, "trial"),
    "rollback": (prepare_last_trial, count_down, read_trial, "active"),
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
    prepared, work, look, aged = CASES[case]
    report = {"cuts": 0, "operations": 0, "found": {}, "after": {}}
    for age in AGES:
        image = fresh_image(prepared, aged, age)
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

    image = fresh_image(prepare, "settings.a")
    return sorted({once(image, save, read, cut_at, "torn", 4)[1] for cut_at in range(12)})


def erases(work, times=500):
    """Blocks erased by one write of a kind, the mean of many."""
    flash = Flash(fresh_image(prepare, "settings.a"))
    store = mounted(flash)
    for number in range(times):
        work(store, number)
    os.umount(MOUNT)
    return flash.erased / times


def everything():
    """The report of all cases."""
    found = {case + ", " + mode: all_cuts(case, mode) for case in CASES for mode in MODES}
    found["negative"] = bad_store()
    found["erases"] = {
        "meter": erases(save_meter_of),
        "log": erases(lambda store, number: store.append_log(event_log.record(event_log.DUTY_CHANGED, 1, 2, number) * 8)),
        "count": erases(lambda store, number: store.save_resets(number % 4, number & 1)),
    }
    return found


print(json.dumps(all_cuts(sys.argv[4], "clean") if len(sys.argv) > 4 else everything()))
