"""The sensor chips of the virtual board, before register-level models take their place: values and causes in the shared file."""

import struct
import time

import machine
from twinloop.control.state import CAUSE_SILENT, IN_FLOW_CAUSE, IN_RAW_CAUSE, IN_RAW_MC, SENSORS

MISHAP_NONE = 0
MISHAP_RAISE = 1
MISHAP_HANG = 2

values = bytearray(4 * SENSORS)
causes = bytearray(4 * SENSORS)


def read_sensors(inputs):
    """Raw values and causes into the inputs; a mishap that the host put in happens here, in the middle of a pass."""
    mishap = machine.peek(machine.SLOT_MISHAP)
    if mishap == MISHAP_RAISE:
        raise RuntimeError("sensor chip raised, put in by the host")
    while mishap == MISHAP_HANG:
        time.sleep_ms(100)
    machine.peek_all(machine.SLOT_VALUE_MC, values)
    machine.peek_all(machine.SLOT_CAUSE, causes)
    for sensor in range(SENSORS):
        inputs[IN_RAW_MC + sensor] = struct.unpack_from("<i", values, 4 * sensor)[0]
        inputs[IN_RAW_CAUSE + sensor] = struct.unpack_from("<i", causes, 4 * sensor)[0]
    inputs[IN_FLOW_CAUSE] = CAUSE_SILENT
