"""Run the control step over recorded inputs and note the results, on CPython and MicroPython alike.

Arguments: firmware folder, file of inputs (int32, INPUTS per step), file to write (int32, five per
step: commands, duty, reason, wait reason, and 30 bits of a CRC over the whole state).
"""

import binascii
import sys
from array import array

sys.path.insert(0, sys.argv[1])

from twinloop.control import settings as cfg  # noqa: E402
from twinloop.control import state as s  # noqa: E402
from twinloop.control import station  # noqa: E402


def run(inputs_path, out_path):
    """All steps, one after the other."""
    state = array("i", [0] * s.STATE)
    settings = array("i", [0] * cfg.SETTINGS)
    inputs = array("i", [0] * s.INPUTS)
    cfg.load_defaults(settings)
    station.wake(state, settings, inputs)
    row = array("i", [0] * 5)
    raw = bytearray(4 * s.INPUTS)
    with open(inputs_path, "rb") as source, open(out_path, "wb") as sink:
        while source.readinto(raw) == len(raw):
            fresh = array("i", raw)
            for index in range(s.INPUTS):
                inputs[index] = fresh[index]
            station.step(state, settings, inputs)
            row[0] = state[s.COMMAND] | state[s.COMMAND + 1] << 1 | state[s.COMMAND + 2] << 2
            row[1] = state[s.DUTY]
            row[2] = state[s.REASON]
            row[3] = state[s.WAIT_REASON]
            row[4] = binascii.crc32(bytes(state)) & 0x3FFFFFFF
            sink.write(bytes(row))


run(sys.argv[2], sys.argv[3])
