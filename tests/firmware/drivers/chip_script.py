"""Runs a board's sensor reader on MicroPython against the virtual chips, on a held clock.

Runs in a folder laid out as a virtual board. Reads script.json, a list of steps:
{"advance": ms, "poke": {slot: value}}. Prints a list with [values in mC, causes] for each step,
and the slots that a chip clears by itself.
"""

import binascii
import json

import board
from registers import SLOT_CLOCK_MS, SLOT_FAULT, peek, poke
from twinloop.control import state as s
from twinloop.port import make_sensors
from twinloop.store import Store

sensors = make_sensors(board)
rows = Store("flash/").load_probes()
for sensor in range(s.SENSORS):
    sensors.fit(sensor, rows.rom(sensor), rows.offsets_mk(sensor)[0])
inputs = [0] * s.INPUTS
answers = []
with open("script.json") as file:
    script = json.loads(file.read())
for step in script:
    for slot in step.get("poke", {}):
        poke(int(slot), step["poke"][slot])
    poke(SLOT_CLOCK_MS, peek(SLOT_CLOCK_MS) + step["advance"])
    sensors.read(inputs)
    values = inputs[s.IN_RAW_MC : s.IN_RAW_MC + s.SENSORS]
    causes = inputs[s.IN_RAW_CAUSE : s.IN_RAW_CAUSE + s.SENSORS]
    answers.append([values, causes])
found = sorted([binascii.hexlify(rom).decode() for rom, _ in sensors.scan()])
print(json.dumps({"answers": answers, "found": found, "faults": [peek(SLOT_FAULT + k) for k in range(s.SENSORS)]}))
