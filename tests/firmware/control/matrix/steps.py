"""Which steps are taken twice: in every situation, when a fact changes, while a sensor flickers."""

import contextlib

from . import changes, matrix, table

# What is not fitted is, to a fact, as good as lost; and none hangs on a crossover.
FITTED = [place for place in matrix.places() if not place.unfitted and not place.open]
# With an air heater there is more to hang on.
PLACES = [place for place in FITTED if place.lost == table.BESIDE_AIR]
# A few suffice, because what is changed takes them everywhere else.
FLICKERING = [
    matrix.Place("bypass", "charging", table.BESIDE_AIR),
    matrix.Place("series", "idle", table.BESIDE_AIR),
    matrix.Place("none", "hands charge", table.BESIDE_AIR),
]
# A jump is believed at its third reading.
JUMP_STEPS = 4


def in_places(stations, facts_of):
    """What hangs on something else where the station is in one of its situations."""
    found = []
    for place in FITTED:
        found += facts_of.of_a_step(stations.reach(place))
    for place in PLACES:
        for look in (facts_of.of_the_guard, facts_of.of_time):
            found += look(stations.reach(place))
        # The same without a flow input, which then says nothing.
        world = stations.reach(place)
        world.set("FLOW_SENSOR", stations.core.settings.NO_FLOW_SENSOR)
        world.inputs[world.s.IN_FLOW_ML_PER_MIN] = 0
        found += facts_of.of_a_step(world)
    return found


def in_steps(stations, facts_of, hazards):
    """The same in steps in which a fact changes, while something comes and goes."""
    watcher = changes.Watcher(facts_of)
    for hazard in hazards:
        for place in PLACES:
            if matrix.applies(place, hazard) and not place.away:
                # What happens is judged by test_matrix.py.
                with contextlib.suppress(matrix.MismatchError):
                    stations.try_hazard(place, hazard, watcher)
    return watcher


def in_flickers(stations, facts_of):
    """The same while each sensor fails for a step, and while it jumps away and back."""
    found = []
    for place in FLICKERING:
        for sensor in table.SENSORS:
            for change in (lambda world, name: world.lose([name]), lambda world, name: world.read({name: world.raw(name) + 30})):
                world = stations.reach(place)
                change(world, sensor)
                for step in range(2 * JUMP_STEPS):
                    if step == JUMP_STEPS or (step == 1 and world.broken(sensor)):
                        world.weather(matrix.SITUATIONS[place.situation].weather)
                        world.mend(sensor)
                    found += facts_of.of_a_step(world) + facts_of.of_the_guard(world)
                    world.step(matrix.STEP_MS)
    return found
