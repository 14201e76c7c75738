"""All sensor chips of a board in one reader: raw values and causes into the inputs, with offsets.

A sensor has a chip of its own (MAX31865, NTC) or a place on the 1-Wire bus. A place without a known
ROM code is silent. Which ROM code is which sensor, and each sensor's offset, is kept on flash (see
store.py).
"""

from array import array

from ..control import state as s
from .ds18b20 import FAMILY, crc8


class SensorBank:
    """`bus` is the 1-Wire bus or None; `flow` is the flow input, or None where there is none.

    `chips` has one entry per sensor: a driver with read() and mc, or None for the bus.
    """

    def __init__(self, bus, chips, flow=None):
        self.bus = bus
        self.flow = flow
        self.chips = chips
        self.offset_mk = array("i", [0] * s.SENSORS)

    def fit(self, sensor, rom, offset_mk):
        """Set which ROM code is this sensor, and what is added to its readings."""
        self.offset_mk[sensor] = offset_mk
        if self.bus is not None:
            self.bus.assign(sensor, rom)

    def read(self, inputs):
        """Read all chips, then start the next conversion."""
        for sensor in range(s.SENSORS):
            self.read_one(inputs, sensor)
        if self.bus is not None and not self.bus.waiting():
            self.bus.start()
        inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT
        if self.flow is not None:
            inputs[s.IN_FLOW_CAUSE] = self.flow.read()
            inputs[s.IN_FLOW_ML_PER_MIN] = self.flow.ml_per_min

    def read_one(self, inputs, sensor):
        """Read one sensor's raw value and cause."""
        chip = self.chips[sensor]
        cause = s.CAUSE_SILENT
        mc = 0
        if chip is not None:
            cause = chip.read()
            mc = chip.mc
        elif self.bus is not None:
            cause = self.bus.read(sensor)
            mc = self.bus.mc
        inputs[s.IN_RAW_CAUSE + sensor] = cause
        if cause == s.CAUSE_NONE:
            inputs[s.IN_RAW_MC + sensor] = mc + self.offset_mk[sensor]

    def scan(self):
        """ROM code and last value of every DS18B20 on the bus now, to tell them apart.

        Not for the running station.
        """
        found = []
        if self.bus is not None:
            for rom in self.bus.wire.scan():
                if rom[0] == FAMILY and crc8(rom, 8) == 0:
                    found.append((bytes(rom), self.bus.mc if self.bus.peek(rom) == s.CAUSE_NONE else s.UNKNOWN_MC))
        return found
