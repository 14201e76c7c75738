"""Every condition the rules use, with its name for people.

A set of conditions is a few words of thirty bits each: on a board, an integer of more than 31 bits
is an object on the heap.
"""

from .tables import Table

BITS = 30

CONDITION_ROWS = Table("name")
RESETS = CONDITION_ROWS.add("three resets in an hour")
GUARD_HELD = CONDITION_ROWS.add("the guard acted")
MAINTAINED = CONDITION_ROWS.add("under maintenance")
HAND_ON = CONDITION_ROWS.add("held by hand")
PURGE_ON = CONDITION_ROWS.add("purging")
FROSTY = CONDITION_ROWS.add("exchanger near frost")  # latch: plates below exchanger_frost, or frosty glycol sinking to them
COLLECTOR_LOST = CONDITION_ROWS.add("collector unknown")
NOT_ARRIVING = CONDITION_ROWS.add("glycol does not arrive")  # glycol was pumped for minutes and did not arrive
FLOWLESS = CONDITION_ROWS.add("no flow")
ASTRAY = CONDITION_ROWS.add("exchanger stays cold")  # hot glycol arrives but the plates stay cold
SWAPPED = CONDITION_ROWS.add("collector and tank_low look swapped")
VALVE_UNKNOWN = CONDITION_ROWS.add("dump valve not home yet")  # the dump valve is on its way home after a reset
HOT_STEAM = CONDITION_ROWS.add("steam possible")  # latch: collector_limit, collector_reset
STIFF = CONDITION_ROWS.add("glycol near freezing")
TANK_LOST = CONDITION_ROWS.add("both tank sensors unknown")
FULL = CONDITION_ROWS.add("tank full")  # latch: over its limit, or full and a dump is possible
HOT_GLYCOL = CONDITION_ROWS.add("glycol too hot to charge")  # latch: charge_limit, charge_limit_reset
COLD_LOOP = CONDITION_ROWS.add("loop may be frosty")  # the outdoor part of the loop may hold glycol below exchanger_frost
TANK_COOL = CONDITION_ROWS.add("tank too cold for the loop")
WANTED = CONDITION_ROWS.add("collector warmer than the tank")  # latch: start_difference, stop_difference
DUMP = CONDITION_ROWS.add("collector at the dump threshold")  # latch: dump_collector_start, dump_collector_stop
RADIATOR = CONDITION_ROWS.add("radiator usable")  # there is one, neither given up nor frosty in series
DEAD = CONDITION_ROWS.add("radiator without effect")
HEATING = CONDITION_ROWS.add("dumping heated the tank")  # or the tank is above tank_limit
ROUND = CONDITION_ROWS.add("radiator bypasses the exchanger")  # glycol can go round without touching the exchanger
COLD_DUMP = CONDITION_ROWS.add("a dump may bring frost into the exchanger")  # radiator in series
COOLING = CONDITION_ROWS.add("away and a cold night")  # latch: away, no use in a radiator, a cold night
TURN_DUE = CONDITION_ROWS.add("exercise is due")  # a pump or the valve has not moved for exercise_after
COOL = CONDITION_ROWS.add("collector cool")  # collector below collector_minimum
PAUSED = CONDITION_ROWS.add("charging given up")  # for a fault, or because glycol arrived no warmer than the tank
TAKEN = CONDITION_ROWS.add("collector seems warmer than the tank")  # by start_difference, but charging took heat out of it
CONDITION_NAMES = CONDITION_ROWS.column("name")
CONDITION_WORDS = len(CONDITION_ROWS.words((), BITS))
