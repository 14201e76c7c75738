"""Calls that show and change settings, and how often flash is written by a call in service."""

import binascii
from array import array

from .control import settings as cfg
from .event_log import SETTINGS_SAVED
from .link import calls
from .store import STORED, pack

PART = 20
# In service calls may write ten times at once, and then once in twenty minutes. In 20 years these
# are 526,000 writes. Each erases two blocks of 4 KiB at most, one for the file and less than one
# for its folder: 1.05 million erases. A block survives 100,000, and littlefs spreads them over the
# free blocks: a hundred (of 352 on a Pico) survive ten million. The event log takes another 0.95
# million at most.
# source: W25Q16JV data sheet, minimum program/erase cycles per sector
WRITES_TOP = 10
WRITE_EVERY_S = 1200


def need_write(desk):
    """Raise if calls have written too often in service; on the bench they may."""
    loop = desk.loop
    if loop.bench:
        return
    paid_s = max(desk.paid_s, loop.uptime_s)
    early_s = paid_s - loop.uptime_s - (WRITES_TOP - 1) * WRITE_EVERY_S
    if early_s > 0:
        raise calls.CallError(calls.REFUSED, f"written too often in service, the flash would wear out: next in {early_s} s")
    desk.paid_s = paid_s + WRITE_EVERY_S


def hex_text(crc):
    """Eight lower-case hex digits: a CRC does not fit a small integer."""
    return f"{crc:08x}"


def values_crc(values):
    """CRC-32 over all settings as packed integers, as text."""
    return hex_text(binascii.crc32(pack(values, 0)[8:-4]) & 0xFFFFFFFF)


def settings_get(desk, params):
    """[part] -> part, parts, sequence, CRC over all, values in the order of their codes."""
    values = desk.loop.settings
    parts = (cfg.SETTINGS + PART - 1) // PART
    part = calls.within("part has", calls.integers(params, 1, 1)[0], 0, parts - 1)
    return {
        "part": part,
        "parts": parts,
        "sequence": desk.loop.store.sequence,
        "crc": values_crc(values),
        "values": list(values[part * PART : part * PART + PART]),
    }


def settings_stage(desk, params):
    """[base sequence, code, value, code, value ...]: stage changes; commit applies them."""
    calls.integers(params, 3, 41)
    if params[0] != desk.loop.store.sequence:
        raise calls.CallError(calls.REFUSED, f"base sequence is {params[0]}, the board's is {desk.loop.store.sequence}")
    if len(params) % 2 == 0:
        raise calls.CallError(calls.BAD_PARAMS, "the last code has no value")
    staged = desk.staged if desk.staged is not None else array("i", desk.loop.settings)
    for place in range(1, len(params), 2):
        if not 0 <= params[place] < cfg.SETTINGS:
            raise calls.CallError(calls.BAD_PARAMS, f"no setting has code {params[place]}")
    for place in range(1, len(params), 2):
        staged[params[place]] = params[place + 1]
    desk.staged = staged
    desk.staged_at = desk.loop.port.ticks_ms()
    return {"crc": values_crc(staged), "broken_rule": cfg.broken_rule(staged)}


def settings_commit(desk, params):
    """[base sequence, CRC text over all values]: take the staged settings as a whole or not at all.

    They are written once; unchanged ones are not written. The station goes on with them, or starts
    cold if one of them needs that.
    """
    if len(params) != 2 or type(params[0]) is not int or type(params[1]) is not str:
        raise calls.CallError(calls.BAD_PARAMS, "takes base sequence and CRC text")
    if desk.staged is None:
        raise calls.CallError(calls.REFUSED, "nothing staged")
    if params[0] != desk.loop.store.sequence or params[1] != values_crc(desk.staged):
        raise calls.CallError(calls.REFUSED, "base or CRC differ from what is staged")
    rule = cfg.broken_rule(desk.staged)
    if rule != cfg.RULE_OK:
        raise calls.CallError(calls.REFUSED, f"settings break rule {rule}")
    loop = desk.loop
    if desk.staged != loop.settings or loop.settings_source != STORED:
        need_write(desk)
        loop.make_room()
        calls.need_written(loop.store.save_settings(desk.staged))
        take_over(loop, desk.staged, False)
    desk.staged = None
    return {"sequence": loop.store.sequence, "crc": params[1]}


def take_over(loop, values, cold):
    """Use new settings that are stored; the station starts cold if it has to, or one needs it."""
    for code in range(cfg.SETTINGS):
        if values[code] != loop.settings[code]:
            loop.settings[code] = values[code]
            cold |= code in cfg.COLD_CODES
    loop.settings_source = STORED
    loop.log.note(SETTINGS_SAVED, 0, loop.store.sequence)
    if cold:
        loop.wake()


METHODS = {"settings.get": settings_get, "settings.stage": settings_stage, "settings.commit": settings_commit}
