"""Runs on MicroPython: a batch of sequences in one process.

Arguments: folder, package, file with the sequences as JSON. Prints what every sequence left, and
what the steps took from the heap.
"""

import json
import sys
from array import array
from binascii import crc32, hexlify

import micropython
import relay_script

MODULES = ("state", "settings", "reasons", "alarms", "station")


class Core:
    """The modules of the core that a sequence needs."""


def load(folder, package):
    """Import the core from a folder."""
    sys.path.insert(0, folder)
    core = Core()
    for name in MODULES:
        full = package + "." + name
        __import__(full)
        setattr(core, name, sys.modules[full])
    return core


class Weighed(relay_script.Run):
    """A run that weighs the core's own step, without the script around it."""

    bytes_taken = 0

    def note(self):
        """Trace the hash of the whole state only: the rest of a line is in it, and takes long."""
        self.trace.append(crc32(self.state))

    def decide(self):
        mem_total = micropython.mem_total
        first = mem_total()
        second = mem_total()
        self.control.station.step(self.state, self.settings, self.inputs)
        self.bytes_taken = mem_total() - second - (second - first)


def weigh(weight, taken):
    """Count a step and what it took."""
    weight[1] += 1
    weight[2] += taken


def tell(core, sequences):
    """Print what each sequence left; last by duty [steps, bytes taken], and with a lost sensor."""
    names = core.state
    weights = [[name, 0, 0] for name in names.DUTY_NAMES + ("lost sensor",)]

    def note(run):
        weigh(weights[run.state[names.DUTY]], run.bytes_taken)
        if max(run.state[names.STATUS : names.STATUS + names.SENSORS]) == names.LOST:
            weigh(weights[-1], run.bytes_taken)

    # The first steps warm up: the first use of a name allocates.
    Weighed(core, sequences[0]).run()
    for sequence in sequences:
        run = Weighed(core, sequence, note).run()
        # In hex: decimal numbers take many times longer.
        print(json.dumps([sequence["name"], run.failures, hexlify(array("I", run.trace)), run.guard_actions]))
    print(json.dumps({weight[0]: weight[1:] for weight in weights}))


def main(folder, package, path):
    """Print the results, a line of JSON each."""
    core = load(folder, package)
    with open(path) as file:
        tell(core, json.load(file))


main(*sys.argv[1:])
