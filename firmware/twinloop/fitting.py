"""Calls for fitting and service: sensors, offsets, log, self check, the prompt."""

import binascii
import gc

from . import event_log
from .changes import hex_text, need_write, take_over, values_crc
from .control import settings as cfg
from .control import state as s
from .link import calls
from .store import UNUSABLE, probe_rows

OFFSET_TOP_MK = 5000
# Bytes of the log in one answer: ten events.
LOG_PART = 10 * event_log.RECORD
PROBE_PART = 4
PROMPT_TOP_S = 900
NO_ROM = bytes(8)
AT_THE_BOARD = "board is in service: close its bench jumper, or hold its display's button down, while you ask again"


def sensor_of(params):
    """The first param, checked to be a sensor."""
    return calls.within("sensor has", params[0], 0, s.SENSORS - 1)


def rom_text(rom):
    """A ROM code as sixteen hex digits, empty for none."""
    return "" if rom == NO_ROM else binascii.hexlify(rom).decode()


def rom_bytes(text):
    """The ROM code of sixteen hex digits, NO_ROM for an empty text. Raises CallError."""
    if text == "":
        return NO_ROM
    try:
        rom = binascii.unhexlify(text)
    except ValueError:
        rom = NO_ROM
    if len(rom) != 8 or rom == NO_ROM:
        raise calls.CallError(calls.BAD_PARAMS, "a ROM code is sixteen hex digits")
    return rom


def put_rom(rows, sensor, rom):
    """Give a sensor this chip, or none."""
    if rom == NO_ROM:
        rows.clear(sensor)
    else:
        rows.assign(sensor, rom)


def need_offset(offset_mk):
    """Raise unless an offset is one, and not a fault."""
    if not -OFFSET_TOP_MK <= offset_mk <= OFFSET_TOP_MK:
        raise calls.CallError(
            calls.BAD_PARAMS, f"offset has to be {-OFFSET_TOP_MK} to {OFFSET_TOP_MK} mK: look for the fault instead"
        )


def keep_probes(desk, rows):
    """Write the probe rows, then use them and pass them on to the chips."""
    loop = desk.loop
    loop.make_room()
    calls.need_written(loop.store.save_probes(rows))
    loop.probes = rows
    loop.fit_probes()


def probes(desk, params):
    """[part] -> four sensors per part: ROM code, offset in force and the one before it in mK."""
    parts = (s.SENSORS + PROBE_PART - 1) // PROBE_PART
    part = calls.within("part has", calls.integers(params, 1, 1)[0], 0, parts - 1)
    rows = desk.loop.probes
    first = part * PROBE_PART
    chosen = range(first, min(first + PROBE_PART, s.SENSORS))
    return [[rom_text(rows.rom(sensor))] + list(rows.offsets_mk(sensor)) for sensor in chosen]


def scan(desk, params):
    """[ROM code, mC] of every DS18B20 on the bus now. On the bench only: readings pause."""
    need_bench(desk)
    desk.loop.make_room()
    return [[rom_text(rom), mc] for rom, mc in desk.loop.port.scan()]


def need_bench(desk):
    """Raise unless on the bench: sensors are not moved around under a station in service."""
    if not desk.loop.bench:
        raise calls.CallError(calls.REFUSED, "board is in service: only on the bench")


def identify(desk, params):
    """[sensor, ROM code as hex text]: this chip is that sensor. Written at once.

    An empty text clears chip and offset. On the bench only.
    """
    need_bench(desk)
    if len(params) != 2 or type(params[0]) is not int or type(params[1]) is not str:
        raise calls.CallError(calls.BAD_PARAMS, "takes sensor and ROM code")
    sensor = sensor_of(params)
    rom = rom_bytes(params[1])
    rows = probe_rows(desk.loop.probes.body)
    put_rom(rows, sensor, rom)
    keep_probes(desk, rows)
    return {"sensor": sensor, "rom": params[1]}


def calibrate(desk, params):
    """[sensor, offset in mK]: added to every reading of this sensor from now on.

    Written at once, unless it is in force; the old offset is kept for undo.
    """
    sensor, offset_mk = calls.integers(params, 2, 2)
    sensor = sensor_of(params)
    need_offset(offset_mk)
    rows = probe_rows(desk.loop.probes.body)
    if offset_mk != rows.offsets_mk(sensor)[0]:
        need_write(desk)
        rows.set_offset(sensor, offset_mk)
        keep_probes(desk, rows)
    return {"sensor": sensor, "offsets_mk": list(rows.offsets_mk(sensor))}


def probes_stage(desk, params):
    """[sensor, ROM code, offset, the one before it in mK]: stage a row; `restore` applies it."""
    need_bench(desk)
    if len(params) != 4 or type(params[1]) is not str:
        raise calls.CallError(calls.BAD_PARAMS, "takes sensor, ROM code and two offsets")
    sensor = sensor_of(calls.integers([params[0], params[2], params[3]], 3, 3))
    rom = rom_bytes(params[1])
    need_offset(params[2])
    need_offset(params[3])
    rows = desk.staged_rows if desk.staged_rows is not None else probe_rows(desk.loop.probes.body)
    put_rom(rows, sensor, rom)
    rows.set_offset(sensor, params[3])
    rows.set_offset(sensor, params[2])
    desk.staged_rows = rows
    desk.staged_at = desk.loop.port.ticks_ms()
    return {"crc": hex_text(binascii.crc32(rows.body) & 0xFFFFFFFF)}


def restore(desk, params):
    """[base sequence, CRC text over all settings, CRC text over all rows]: take both as staged.

    Settings and rows replace the stored ones together or not at all; the station starts cold.
    """
    need_bench(desk)
    loop = desk.loop
    if desk.staged is None or desk.staged_rows is None:
        raise calls.CallError(calls.REFUSED, "settings and sensors have to be staged first")
    if params != [loop.store.sequence, values_crc(desk.staged), hex_text(binascii.crc32(desk.staged_rows.body) & 0xFFFFFFFF)]:
        raise calls.CallError(calls.REFUSED, "base or CRCs differ from what is staged")
    rule = cfg.broken_rule(desk.staged)
    if rule != cfg.RULE_OK:
        raise calls.CallError(calls.REFUSED, f"settings break rule {rule}")
    loop.make_room()
    calls.need_written(loop.store.restore(desk.staged, desk.staged_rows))
    loop.probes = desk.staged_rows
    loop.fit_probes()
    take_over(loop, desk.staged, True)
    desk.unstage()
    return {"sequence": loop.store.sequence, "crc": params[1]}


def log(desk, params):
    """[part] -> part, parts and its events, each [kind, a, b, uptime_s], oldest first.

    Part 0 takes a snapshot, and all parts come from it.
    """
    part = calls.integers(params, 1, 1)[0]
    if part == 0:
        desk.loop.make_room()
        desk.log_snapshot = desk.loop.store.read_log() + desk.loop.log.packed()
    body = desk.log_snapshot
    if body is None:
        raise calls.CallError(calls.REFUSED, "ask for part 0 first")
    parts = max(1, (len(body) + LOG_PART - 1) // LOG_PART)
    calls.within("part has", part, 0, parts - 1)
    if part == parts - 1:
        desk.log_snapshot = None
    # Only one part is unpacked: all of them would take a tenth of a second.
    events = event_log.records(body, part * LOG_PART, (part + 1) * LOG_PART)
    return {"part": part, "parts": parts, "events": [list(event) for event in events]}


def meter(desk, params):
    """What the station itself has done so far; nothing injected counts.

    Run time and starts per output, time per duty, time with the collector at its limit, heat
    charged and dumped, the time since the tank was last hot for an hour, and the fan's time since
    the filter was last new.
    """
    first = s.METER_MS
    words = desk.loop.own_meter()
    return {
        "on_s": list(words[s.ON_S - first : s.ON_S - first + s.OUTPUTS]),
        "starts": list(words[s.STARTS - first : s.STARTS - first + s.OUTPUTS]),
        "duty_s": list(words[s.DUTY_S - first : s.DUTY_S - first + s.DUTIES]),
        "stagnation_s": words[s.STAGNATION_S - first],
        "heat_wh": words[s.HEAT_WH - first],
        "dumped_wh": words[s.DUMPED_WH - first],
        "since_hot_s": words[s.SINCE_HOT_S - first],
        "filter_s": words[s.FILTER_S - first],
    }


def new_filter(desk, params):
    """The air heater's filter is new: its fan hours count from zero."""
    desk.loop.make_room()
    desk.loop.new_filter()
    return {}


def self_check(desk, params):
    """What the board knows of itself: copies, sensors, relay pins, memory, how it started.

    `contacts` are the closed ones as bits, -1 without read-back wires; `rest` are those that are
    closed without power.
    """
    loop = desk.loop
    loop.make_room()
    gc.collect()
    lost = rest = 0
    for sensor in range(s.SENSORS):
        if loop.state[s.STATUS + sensor] == s.LOST:
            lost |= 1 << sensor
    for output in range(s.OUTPUTS):
        rest |= loop.port.rest[output] << output
    return {
        "settings_copies": loop.store.settings.good(),
        "probe_copies": loop.store.probes.good(),
        "settings_lost": int(loop.settings_source == UNUSABLE),
        "flash_failures": loop.store.failures,
        "sensors_lost": lost,
        "relay_astray": loop.port.astray(),
        "contacts": -1 if loop.port.read_back is None else loop.port.read_back.closed(),
        "rest": rest,
        "heap_free": gc.mem_free() if hasattr(gc, "mem_free") else -1,
        "start_cause": loop.port.start_cause,
        "resets": loop.resets,
        "events_waiting": loop.log.count,
    }


def prompt(desk, params):
    """[seconds]: relays safe, then restart into the prompt, for at most that long.

    At the prompt no limit holds, so in service somebody has to be at the board.
    """
    seconds = calls.within("seconds have", calls.integers(params, 1, 1)[0], 1, PROMPT_TOP_S)
    if not desk.loop.bench and not desk.loop.port.attended():
        raise calls.CallError(calls.REFUSED, AT_THE_BOARD)
    desk.loop.ask_restart(seconds)
    return {"prompt_s": seconds}


METHODS = {
    "probes": probes,
    "scan": scan,
    "identify": identify,
    "probes.stage": probes_stage,
    "restore": restore,
    "calibrate": calibrate,
    "log": log,
    "meter": meter,
    "filter": new_filter,
    "self_check": self_check,
    "prompt": prompt,
}
