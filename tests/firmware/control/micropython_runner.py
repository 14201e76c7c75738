"""Runs on MicroPython: a batch of sequences in one process.

Arguments: folder, package, file with the sequences as JSON, and "trace" for what every sequence
left or "heap" for what the steps took from the heap.
"""

import json
import sys

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


def traces(core, sequences):
    """Failures, trace and guard actions of every sequence by name."""
    results = {}
    for sequence in sequences:
        run = relay_script.Run(core, sequence).run()
        results[sequence["name"]] = {"failures": run.failures, "trace": run.trace, "guard_actions": run.guard_actions}
    return results


def weights(core, sequences):
    """[steps, bytes taken from the heap] by duty, and for steps with a lost sensor."""
    names = core.state
    found = {}

    def note(run):
        places = [names.DUTY_NAMES[run.state[names.DUTY]]]
        if max(run.state[names.STATUS : names.STATUS + names.SENSORS]) == names.LOST:
            places.append("lost sensor")
        for place in places:
            steps, taken = found.get(place, (0, 0))
            found[place] = (steps + 1, taken + run.bytes_taken)

    # The first steps warm up: the first use of a name allocates.
    Weighed(core, sequences[0]).run()
    for sequence in sequences:
        Weighed(core, sequence, note).run()
    return found


def main(folder, package, path, what):
    """Print the results as one JSON document."""
    core = load(folder, package)
    with open(path) as file:
        sequences = json.load(file)
    print(json.dumps(traces(core, sequences) if what == "trace" else weights(core, sequences)))


main(*sys.argv[1:])
