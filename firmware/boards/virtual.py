"""The virtual board: pins and sensors are numbers in a file that the host shares with it.

Connect: nothing. Relays at pins 2 to 5, all energised by a high level; jumper at pin 15.
"""

NAME = "virtual"
PERIOD_MS = 1000
LEASE_MS = 3000
WATCHDOG_MS = 4000
# pin and energising level, in the order of the outputs: collector pump, tank pump, dump valve power, alarm
RELAYS = ((2, 1), (3, 1), (4, 1), (5, 1))
BENCH_JUMPER = 15
FOLDER = "flash/"


def make_sensors():
    """The reader of the shared file; a real board makes its sensor chips here."""
    from virtual_chips import read_sensors

    return read_sensors
