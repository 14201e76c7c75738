"""The real drivers on MicroPython against register-level chips, with everything in turn that can be wrong with those."""

import json
import subprocess
from pathlib import Path

import pytest
from twinloop.control import state as s
from twinloop_hil.virtual.board import VirtualBoard, rom_code
from twinloop_hil.virtual.files.slots import (
    FAULT_BUSY,
    FAULT_CRC,
    FAULT_CRC_ONCE,
    FAULT_DEAF,
    FAULT_FLICKER,
    FAULT_GLITCH,
    FAULT_GONE,
    FAULT_NONE,
    FAULT_OPEN,
    FAULT_POWER,
    FAULT_SHORT,
    FAULT_STRANGE,
    FAULT_VOLTAGE,
    LINE_FREE,
    LINE_HIGH,
    LINE_LOW,
    SLOT_CLOCK_HELD,
    SLOT_DATA_LINE,
    SLOT_FAULT,
    SLOT_ROM_AT,
    SLOT_VALUE_MC,
    SLOT_WIRE,
)

SCRIPT = Path(__file__).with_name("chip_script.py")
MILD_MC = (48000, 30000, 41000, 22000, 21500, -10125, 39937, 20500)
# A warm tank chip in a cold place is not what these tests are about: the last answer of a script is what counts unless said.
SETTLED = 4


class Chips(VirtualBoard):
    """The flash and the registers of a virtual board without its process."""

    def __init__(self, interpreter):
        self.was_cut = False
        super().__init__(interpreter, held=True)

    def start(self, cause):
        """The script is the only program here."""
        self.poke(SLOT_CLOCK_HELD, 1)
        self.process = subprocess.Popen(["sleep", "100"])

    def supervise(self):
        """Nothing bites."""


@pytest.fixture
def chips(interpreter):
    """Chips with mild temperatures at their places."""
    with Chips(interpreter) as board:
        board.set_sensors(MILD_MC)
        yield board


def run(chips, script):
    """The script's answers."""
    (chips.folder / "script.json").write_text(json.dumps(script))
    (chips.folder / SCRIPT.name).write_text(SCRIPT.read_text())
    call = [chips.interpreter, "-X", "heapsize=2M", SCRIPT.name]
    done = subprocess.run(call, cwd=chips.folder, capture_output=True, text=True, timeout=60, env={"MICROPYPATH": ":.frozen"})
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def steps(count, **pokes):
    """So many steps a second apart, with registers poked before the first."""
    first = {"advance": 1000, "poke": {str(slot): value for slot, value in pokes.get("poke", {}).items()}}
    return [first, *[{"advance": 1000} for _ in range(count - 1)]]


def causes_of(found, sensor):
    """One sensor's causes over the script."""
    return [causes[sensor] for _, causes in found["answers"]]


def test_healthy_chips_read_their_places(chips):
    """Within half a step of each chip, from the third step on; nothing before that is a number anyone may believe."""
    found = run(chips, steps(SETTLED))
    assert all(cause == s.CAUSE_NOT_READY or cause == s.CAUSE_POWER_ON for cause in found["answers"][0][1])
    values, causes = found["answers"][-1]
    assert causes == [0] * s.SENSORS
    assert abs(values[s.COLLECTOR] - MILD_MC[s.COLLECTOR]) <= 16 + 10
    for sensor in range(1, s.SENSORS):
        assert abs(values[sensor] - MILD_MC[sensor]) <= 32
    assert found["found"] == sorted(rom_code(sensor).hex() for sensor in range(1, s.SENSORS))


# On the 1-Wire bus: what is wrong, and the cause that tank_low reads at every later step.
STANDING = {
    "missing": ({SLOT_FAULT + s.TANK_LOW: FAULT_GONE}, s.CAUSE_SILENT),
    "broken transmission": ({SLOT_FAULT + s.TANK_LOW: FAULT_CRC}, s.CAUSE_CRC),
    "strange chip": ({SLOT_FAULT + s.TANK_LOW: FAULT_STRANGE}, s.CAUSE_CHIP),
    "power flickers": ({SLOT_FAULT + s.TANK_LOW: FAULT_FLICKER}, s.CAUSE_POWER_ON),
    "bus shorted to ground": ({SLOT_WIRE: LINE_LOW}, s.CAUSE_ALL_ZERO),
    "bus open": ({SLOT_WIRE: LINE_HIGH}, s.CAUSE_SILENT),
    "another chip in its place": ({SLOT_ROM_AT + s.TANK_LOW: 20}, s.CAUSE_SILENT),
}


@pytest.mark.parametrize("name", STANDING)
def test_standing_faults_of_a_ds18b20(chips, name):
    """From the fault on no number is given, the cause is the right one, and after mending the value is back."""
    pokes, cause = STANDING[name]
    mended = {slot: s.TANK_LOW if slot == SLOT_ROM_AT + s.TANK_LOW else 0 for slot in pokes}
    found = run(chips, steps(SETTLED) + steps(4, poke=pokes) + steps(4, poke=mended))
    seen = causes_of(found, s.TANK_LOW)
    assert seen[SETTLED - 1] == s.CAUSE_NONE
    assert set(seen[SETTLED : SETTLED + 4]) == {cause}
    assert seen[-1] == s.CAUSE_NONE
    assert abs(found["answers"][-1][0][s.TANK_LOW] - MILD_MC[s.TANK_LOW]) <= 32
    if SLOT_WIRE not in pokes:
        assert causes_of(found, s.TANK_HIGH)[SETTLED:] == [s.CAUSE_NONE] * 8


def test_a_shorted_bus_never_looks_like_a_cold_tank(chips):
    """Zeros with a good CRC are 0.0 C to a naive reader; here no sensor of the bus gets a number, from boot on as well."""
    for script in (steps(6, poke={SLOT_WIRE: LINE_LOW}), steps(SETTLED) + steps(6, poke={SLOT_WIRE: LINE_LOW})):
        chips.poke(SLOT_WIRE, LINE_FREE)
        answers = run(chips, script)["answers"][-6:]
        for _, causes in answers:
            assert all(causes[sensor] != s.CAUSE_NONE for sensor in range(1, s.SENSORS))


def test_one_broken_transmission_is_read_again(chips):
    """A single garbled scratchpad costs nothing: the second try in the same step is good."""
    found = run(chips, steps(SETTLED) + steps(2, poke={SLOT_FAULT + s.TANK_LOW: FAULT_CRC_ONCE}))
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [0, 0]
    assert found["faults"][s.TANK_LOW] == FAULT_NONE


def test_power_on_value_is_not_a_temperature(chips):
    """A brown-out between two steps: 85.000 C with a good CRC is refused, and the next conversion is believed."""
    found = run(chips, steps(SETTLED) + steps(3, poke={SLOT_FAULT + s.TANK_LOW: FAULT_POWER}))
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [s.CAUSE_POWER_ON, s.CAUSE_NONE, s.CAUSE_NONE]


def test_a_chip_that_never_converts_is_not_at_85(chips):
    """After a brown-out the chip keeps its mark but no conversion reaches it: 85.000 C stays refused."""
    script = steps(SETTLED) + steps(1, poke={SLOT_FAULT + s.TANK_LOW: FAULT_POWER})
    script += steps(5, poke={SLOT_FAULT + s.TANK_LOW: FAULT_DEAF})
    # The power comes back in the very step in which the chip turns deaf.
    seen = causes_of(run(chips, script), s.TANK_LOW)
    assert seen[SETTLED] == s.CAUSE_POWER_ON
    deaf_from_boot = causes_of(run(chips, steps(6, poke={SLOT_FAULT + s.TANK_LOW: FAULT_DEAF})), s.TANK_LOW)
    assert s.CAUSE_NONE not in deaf_from_boot and s.CAUSE_POWER_ON in deaf_from_boot


def test_a_real_85_is_believed(chips):
    """85.000 C is a possible reading: from boot on it is believed once the chip was seen converting, and at once later."""
    at_85 = {SLOT_VALUE_MC + s.TANK_HIGH: 85000}
    found = run(chips, steps(6, poke=at_85))
    assert causes_of(found, s.TANK_HIGH)[-2:] == [0, 0]
    assert found["answers"][-1][0][s.TANK_HIGH] == 85000
    moved = run(chips, steps(SETTLED, poke={SLOT_VALUE_MC + s.TANK_HIGH: 84000}) + steps(2, poke=at_85))
    assert causes_of(moved, s.TANK_HIGH)[SETTLED:] == [0, 0]
    assert moved["answers"][-1][0][s.TANK_HIGH] == 85000


def test_swapped_chips_are_told_by_their_codes(chips):
    """Two chips change places in the pockets: each role still reads its own chip, which is now elsewhere."""
    swap = {SLOT_ROM_AT + s.TANK_LOW: s.TANK_HIGH, SLOT_ROM_AT + s.TANK_HIGH: s.TANK_LOW}
    values, causes = run(chips, steps(SETTLED) + steps(4, poke=swap))["answers"][-1]
    assert causes == [0] * s.SENSORS
    assert (values[s.TANK_LOW], values[s.TANK_HIGH]) == (MILD_MC[s.TANK_HIGH], MILD_MC[s.TANK_LOW])


def test_no_conversion_is_waited_for(chips):
    """A step that comes too early says so; the value comes with a later one."""
    found = run(chips, steps(SETTLED) + [{"advance": 300}, {"advance": 300}, {"advance": 300}])
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [s.CAUSE_NOT_READY, s.CAUSE_NOT_READY, s.CAUSE_NONE]


# At the MAX31865: what is wrong, and the causes that the collector may read while it is.
RTD = {
    "open": ({SLOT_FAULT: FAULT_OPEN}, {s.CAUSE_OPEN}),
    "short": ({SLOT_FAULT: FAULT_SHORT}, {s.CAUSE_SHORT}),
    "voltage at an input": ({SLOT_FAULT: FAULT_VOLTAGE}, {s.CAUSE_CHIP}),
    "power flickers": ({SLOT_FAULT: FAULT_FLICKER}, {s.CAUSE_POWER_ON}),
    "no module": ({SLOT_FAULT: FAULT_GONE}, {s.CAUSE_SILENT}),
    "data line low": ({SLOT_DATA_LINE: LINE_LOW}, {s.CAUSE_SILENT}),
    "data line high": ({SLOT_DATA_LINE: LINE_HIGH}, {s.CAUSE_SILENT}),
    "conversion never ends": ({SLOT_FAULT: FAULT_BUSY}, {s.CAUSE_NOT_READY, s.CAUSE_CHIP}),
}


@pytest.mark.parametrize("name", RTD)
def test_standing_faults_of_the_collector(chips, name):
    """No number while it lasts (the reading under way when it begins may still come), the right cause, and back after mending."""
    pokes, causes = RTD[name]
    found = run(chips, steps(SETTLED) + steps(12, poke=pokes) + steps(5, poke=dict.fromkeys(pokes, 0)))
    seen = causes_of(found, s.COLLECTOR)
    assert seen[SETTLED - 1] == s.CAUSE_NONE
    during = set(seen[SETTLED + 2 : SETTLED + 12])
    assert s.CAUSE_NONE not in during
    assert during - {s.CAUSE_NOT_READY} == causes - {s.CAUSE_NOT_READY}
    assert seen[-1] == s.CAUSE_NONE
    assert abs(found["answers"][-1][0][s.COLLECTOR] - MILD_MC[s.COLLECTOR]) <= 26


def test_a_latched_fault_is_cleared(chips):
    """One open conversion latches its fault; the driver says so once, clears the latch, and goes on."""
    seen = causes_of(run(chips, steps(SETTLED) + steps(6, poke={SLOT_FAULT: FAULT_GLITCH})), s.COLLECTOR)
    assert seen[SETTLED:].count(s.CAUSE_OPEN) == 1
    assert seen[-2:] == [0, 0]


def test_a_brown_out_of_the_chip_is_noticed(chips):
    """Its registers are those of power-on: programmed again, and no value of before is taken for a new one."""
    seen = causes_of(run(chips, steps(SETTLED) + steps(6, poke={SLOT_FAULT: FAULT_POWER})), s.COLLECTOR)
    assert seen[SETTLED] == s.CAUSE_POWER_ON
    assert seen[-2:] == [0, 0]


def test_fault_cycles_run_now_and_then(chips):
    """In two minutes a value is missing twice, for the fault cycle, and nothing worse."""
    seen = causes_of(run(chips, steps(125)), s.COLLECTOR)[SETTLED:]
    assert seen.count(s.CAUSE_NOT_READY) == 2
    assert set(seen) == {s.CAUSE_NONE, s.CAUSE_NOT_READY}


def test_ntc_on_the_converter(chips):
    """An NTC for the outdoor air: within half a step of twelve bits and the driver's 0.03 K; rails are faults."""
    path = chips.folder / "board.py"
    path.write_text(path.read_text().replace("NTC = ()", "NTC = ((5, 26, 10000, 10000, 3950),)"))
    for celsius in (-15.0, 0.0, 20.0, 60.0):
        values, causes = run(chips, steps(SETTLED, poke={SLOT_VALUE_MC + s.OUTDOOR: int(1000 * celsius)}))["answers"][-1]
        assert causes[s.OUTDOOR] == s.CAUSE_NONE
        assert abs(values[s.OUTDOOR] - 1000 * celsius) <= 150
    for fault, cause in ((FAULT_OPEN, s.CAUSE_OPEN), (FAULT_SHORT, s.CAUSE_SHORT)):
        assert causes_of(run(chips, steps(2, poke={SLOT_FAULT + s.OUTDOOR: fault})), s.OUTDOOR) == [cause, cause]
