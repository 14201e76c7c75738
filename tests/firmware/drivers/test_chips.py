"""The real drivers on MicroPython against register-level chips, fault by fault."""

import json
import subprocess
from pathlib import Path

import pytest
from twinloop.control import state as s
from twinloop_hil.virtual.board import VirtualBoard, rom_code
from twinloop_hil.virtual.files import slots

MILD_MC = (48000, 30000, 41000, 22000, 21500, -10125, 39937, 20500, 61000, 18000)
# Unless a test says otherwise, the last answer of a script counts.
SETTLED = 4


class Chips(VirtualBoard):
    """The flash and registers of a virtual board, without its process."""

    def __init__(self, interpreter):
        self.was_cut = False
        super().__init__(interpreter, held=True)

    def start(self, cause):
        """Starts nothing: the script is the only program."""
        self.poke(slots.SLOT_CLOCK_HELD, 1)
        self.process = subprocess.Popen(["sleep", "100"])

    def supervise(self):
        pass


@pytest.fixture
def chips(interpreter):
    """Chips at mild temperatures."""
    with Chips(interpreter) as board:
        board.set_sensors(MILD_MC)
        yield board


def run_script(chips, name):
    """What a script of this folder prints in the folder of the board."""
    (chips.folder / name).write_text(Path(__file__).with_name(name).read_text())
    call = [chips.interpreter, "-X", "heapsize=2M", name]
    done = subprocess.run(call, cwd=chips.folder, capture_output=True, text=True, timeout=60, env={"MICROPYPATH": ":.frozen"})
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout)


def run(chips, script):
    """The chips' answers to these steps."""
    (chips.folder / "script.json").write_text(json.dumps(script))
    return run_script(chips, "chip_script.py")


def steps(count, **pokes):
    """Steps one second apart, with registers poked before the first."""
    first = {"advance": 1000, "poke": {str(slot): value for slot, value in pokes.get("poke", {}).items()}}
    return [first, *[{"advance": 1000} for _ in range(count - 1)]]


def causes_of(found, sensor):
    """The causes of one sensor over the script."""
    return [causes[sensor] for _, causes in found["answers"]]


def test_healthy_chips_read_their_places(chips):
    """Within half a chip step from the third step on; before that, no value is trusted."""
    found = run(chips, steps(SETTLED))
    assert all(cause == s.CAUSE_NOT_READY or cause == s.CAUSE_POWER_ON for cause in found["answers"][0][1])
    values, causes = found["answers"][-1]
    assert causes == [0] * s.SENSORS
    assert abs(values[s.COLLECTOR] - MILD_MC[s.COLLECTOR]) <= 16 + 10
    for sensor in range(1, s.SENSORS):
        assert abs(values[sensor] - MILD_MC[sensor]) <= 32
    assert found["found"] == sorted(rom_code(sensor).hex() for sensor in range(1, s.SENSORS))


# Faults of the 1-Wire bus, and the cause of tank_low at every later step.
STANDING = {
    "missing": ({slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_GONE}, s.CAUSE_SILENT),
    "broken transmission": ({slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_CRC}, s.CAUSE_CRC),
    "strange chip": ({slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_STRANGE}, s.CAUSE_CHIP),
    "power flickers": ({slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_FLICKER}, s.CAUSE_POWER_ON),
    "bus shorted to ground": ({slots.SLOT_WIRE: slots.LINE_LOW}, s.CAUSE_ALL_ZERO),
    "bus open": ({slots.SLOT_WIRE: slots.LINE_HIGH}, s.CAUSE_SILENT),
    "another chip in its place": ({slots.SLOT_ROM_AT + s.TANK_LOW: 20}, s.CAUSE_SILENT),
}


@pytest.mark.parametrize("name", STANDING)
def test_standing_faults_of_a_ds18b20(chips, name):
    """No value from the fault on, with the right cause; the value returns after the repair."""
    pokes, cause = STANDING[name]
    mended = {slot: s.TANK_LOW if slot == slots.SLOT_ROM_AT + s.TANK_LOW else 0 for slot in pokes}
    found = run(chips, steps(SETTLED) + steps(4, poke=pokes) + steps(4, poke=mended))
    seen = causes_of(found, s.TANK_LOW)
    assert seen[SETTLED - 1] == s.CAUSE_NONE
    assert set(seen[SETTLED : SETTLED + 4]) == {cause}
    assert seen[-1] == s.CAUSE_NONE
    assert abs(found["answers"][-1][0][s.TANK_LOW] - MILD_MC[s.TANK_LOW]) <= 32
    if slots.SLOT_WIRE not in pokes:
        assert causes_of(found, s.TANK_HIGH)[SETTLED:] == [s.CAUSE_NONE] * 8


def test_a_shorted_bus_never_looks_like_a_cold_tank(chips):
    """Zeros have a good CRC and would read 0.0 C; no sensor of the bus gets a value."""
    for script in (
        steps(6, poke={slots.SLOT_WIRE: slots.LINE_LOW}),
        steps(SETTLED) + steps(6, poke={slots.SLOT_WIRE: slots.LINE_LOW}),
    ):
        chips.poke(slots.SLOT_WIRE, slots.LINE_FREE)
        answers = run(chips, script)["answers"][-6:]
        for _, causes in answers:
            assert all(causes[sensor] != s.CAUSE_NONE for sensor in range(1, s.SENSORS))


def test_one_broken_transmission_is_read_again(chips):
    found = run(chips, steps(SETTLED) + steps(2, poke={slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_CRC_ONCE}))
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [0, 0]
    assert found["faults"][s.TANK_LOW] == slots.FAULT_NONE


def test_power_on_value_is_not_a_temperature(chips):
    """After a brown-out 85.000 C with a good CRC is refused; the next conversion counts."""
    found = run(chips, steps(SETTLED) + steps(3, poke={slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_POWER}))
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [s.CAUSE_POWER_ON, s.CAUSE_NONE, s.CAUSE_NONE]


def test_a_chip_that_never_converts_is_not_at_85(chips):
    """While no conversion reaches the chip after a brown-out, 85.000 C stays refused."""
    script = steps(SETTLED) + steps(1, poke={slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_POWER})
    script += steps(5, poke={slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_DEAF})
    # Power returns in the step in which the chip stops listening.
    seen = causes_of(run(chips, script), s.TANK_LOW)
    assert seen[SETTLED] == s.CAUSE_POWER_ON
    deaf_from_boot = causes_of(run(chips, steps(6, poke={slots.SLOT_FAULT + s.TANK_LOW: slots.FAULT_DEAF})), s.TANK_LOW)
    assert s.CAUSE_NONE not in deaf_from_boot and s.CAUSE_POWER_ON in deaf_from_boot


def test_a_real_85_is_believed(chips):
    """A real 85.000 C counts once the chip was seen converting, later at once."""
    at_85 = {slots.SLOT_VALUE_MC + s.TANK_HIGH: 85000}
    found = run(chips, steps(6, poke=at_85))
    assert causes_of(found, s.TANK_HIGH)[-2:] == [0, 0]
    assert found["answers"][-1][0][s.TANK_HIGH] == 85000
    moved = run(chips, steps(SETTLED, poke={slots.SLOT_VALUE_MC + s.TANK_HIGH: 84000}) + steps(2, poke=at_85))
    assert causes_of(moved, s.TANK_HIGH)[SETTLED:] == [0, 0]
    assert moved["answers"][-1][0][s.TANK_HIGH] == 85000


def test_swapped_chips_are_told_by_their_codes(chips):
    swap = {slots.SLOT_ROM_AT + s.TANK_LOW: s.TANK_HIGH, slots.SLOT_ROM_AT + s.TANK_HIGH: s.TANK_LOW}
    values, causes = run(chips, steps(SETTLED) + steps(4, poke=swap))["answers"][-1]
    assert causes == [0] * s.SENSORS
    assert (values[s.TANK_LOW], values[s.TANK_HIGH]) == (MILD_MC[s.TANK_HIGH], MILD_MC[s.TANK_LOW])


def test_no_conversion_is_waited_for(chips):
    """A step that comes too early says so; a later one has the value."""
    found = run(chips, steps(SETTLED) + [{"advance": 300}, {"advance": 300}, {"advance": 300}])
    assert causes_of(found, s.TANK_LOW)[SETTLED:] == [s.CAUSE_NOT_READY, s.CAUSE_NOT_READY, s.CAUSE_NONE]


# Faults of the MAX31865, and the causes that the collector may have meanwhile.
RTD = {
    "open": ({slots.SLOT_FAULT: slots.FAULT_OPEN}, {s.CAUSE_OPEN}),
    "short": ({slots.SLOT_FAULT: slots.FAULT_SHORT}, {s.CAUSE_SHORT}),
    "voltage at an input": ({slots.SLOT_FAULT: slots.FAULT_VOLTAGE}, {s.CAUSE_CHIP}),
    "power flickers": ({slots.SLOT_FAULT: slots.FAULT_FLICKER}, {s.CAUSE_POWER_ON}),
    "no module": ({slots.SLOT_FAULT: slots.FAULT_GONE}, {s.CAUSE_SILENT}),
    "data line low": ({slots.SLOT_DATA_LINE: slots.LINE_LOW}, {s.CAUSE_SILENT}),
    "data line high": ({slots.SLOT_DATA_LINE: slots.LINE_HIGH}, {s.CAUSE_SILENT}),
    "conversion never ends": ({slots.SLOT_FAULT: slots.FAULT_BUSY}, {s.CAUSE_NOT_READY, s.CAUSE_CHIP}),
}


@pytest.mark.parametrize("name", RTD)
def test_standing_faults_of_the_collector(chips, name):
    """No value while it lasts, bar a reading under way; the right cause; back after the repair."""
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
    """One open conversion latches a fault; the driver reports it once, clears it, goes on."""
    seen = causes_of(run(chips, steps(SETTLED) + steps(6, poke={slots.SLOT_FAULT: slots.FAULT_GLITCH})), s.COLLECTOR)
    assert seen[SETTLED:].count(s.CAUSE_OPEN) == 1
    assert seen[-2:] == [0, 0]


def test_a_brown_out_of_the_chip_is_noticed(chips):
    """The chip is programmed again, and no old value is taken for a new one."""
    seen = causes_of(run(chips, steps(SETTLED) + steps(6, poke={slots.SLOT_FAULT: slots.FAULT_POWER})), s.COLLECTOR)
    assert seen[SETTLED] == s.CAUSE_POWER_ON
    assert seen[-2:] == [0, 0]


def test_fault_cycles_run_now_and_then(chips):
    """Two values are missing in two minutes, for the fault cycle, and nothing else."""
    seen = causes_of(run(chips, steps(125)), s.COLLECTOR)[SETTLED:]
    assert seen.count(s.CAUSE_NOT_READY) == 2
    assert set(seen) == {s.CAUSE_NONE, s.CAUSE_NOT_READY}


def test_ntc_on_the_converter(chips):
    """An NTC within half a step of twelve bits and the driver's 0.03 K; rails are faults."""
    path = chips.folder / "board.py"
    path.write_text(path.read_text().replace("NTC = ()", "NTC = ((5, 26, 10000, 10000, 3950),)"))
    for celsius in (-15.0, 0.0, 20.0, 60.0):
        values, causes = run(chips, steps(SETTLED, poke={slots.SLOT_VALUE_MC + s.OUTDOOR: int(1000 * celsius)}))["answers"][-1]
        assert causes[s.OUTDOOR] == s.CAUSE_NONE
        assert abs(values[s.OUTDOOR] - 1000 * celsius) <= 150
    for fault, cause in ((slots.FAULT_OPEN, s.CAUSE_OPEN), (slots.FAULT_SHORT, s.CAUSE_SHORT)):
        assert causes_of(run(chips, steps(2, poke={slots.SLOT_FAULT + s.OUTDOOR: fault})), s.OUTDOOR) == [cause, cause]
