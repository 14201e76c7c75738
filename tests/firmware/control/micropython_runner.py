"""Runs on MicroPython: a batch of sequences in one process.

Arguments: folder, package, file with the sequences as JSON. Prints what every sequence left, and
what the steps took from the heap.
"""

import json
import sys
from array import array
from binascii import hexlify

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

    def decide(self):
        mem_total = micropython.mem_total
        first = mem_total()
        second = mem_total()
        self.control.station.step(self.state, self.settings, self.inputs)
        self.bytes_taken = mem_total() - second - (second - first)


def packed(trace):
    """The trace in hex, six words of 32 bits a step: decimal numbers take many times longer."""
    words = array("I", bytes(24 * len(trace)))
    for number, step in enumerate(trace):
        for place in range(6):
            words[6 * number + place] = step[place]
    return hexlify(words)


def tell(core, sequences):
    """Print what each sequence left; last by duty [steps, bytes taken], and with a lost sensor."""
    names = core.state
    weights = {}

    def note(run):
        places = [names.DUTY_NAMES[run.state[names.DUTY]]]
        if max(run.state[names.STATUS : names.STATUS + names.SENSORS]) == names.LOST:
            places.append("lost sensor")
        for place in places:
            steps, taken = weights.get(place, (0, 0))
            weights[place] = (steps + 1, taken + run.bytes_taken)

    # The first steps warm up: the first use of a name allocates.
    Weighed(core, sequences[0]).run()
    for sequence in sequences:
        run = Weighed(core, sequence, note).run()
        print(json.dumps([sequence["name"], run.failures, packed(run.trace), run.guard_actions]))
    print(json.dumps(weights))


def main(folder, package, path):
    """Print the results, a line of JSON each."""
    core = load(folder, package)
    with open(path) as file:
        tell(core, json.load(file))


main(*sys.argv[1:])
