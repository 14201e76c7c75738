"""The virtual board: its chips are models; it shares pins and temperatures with the host in a file.

Connect: nothing. Collector on the MAX31865, every other sensor on the 1-Wire bus, as on a real
station.
"""

NAME = "virtual"
PLATFORM = "linux"
CHIP = "virtual"
PERIOD_MS = 1000
LEASE_MS = 3000
WATCHDOG_MS = 4000
# pin and energising level of each output: collector pump, tank pump, dump valve power, alarm, air
# fan (leave the last out where there is none)
RELAYS = ((2, 1), (3, 1), (4, 1), (5, 1), (9, 1))
# what the alarm contact says without power: "silent", or "alarm" (wiring draws either)
ALARM_RESTS = "silent"
# inputs that see the contacts on the bench, contact to ground, in the order of the outputs
READ_BACK = (24, 25, 26, 27, 28)
BENCH_JUMPER = 15
STATUS_LED = (14, 1)
ONE_WIRE = 6
RTD = {
    "bus": 0,
    "clock": 18,
    "to_chip": 19,
    "from_chip": 16,
    "select": 17,
    "reference_ohm": 4000,
    "nominal_ohm": 1000,
    "wires": 2,
    "mains_hz": 50,
}
# sensor, pin, series resistor in ohm, resistance at 25 C in ohm, beta in K
NTC = ()
# pin and pulses per litre of a flow meter in the roof loop, 0 pulses for a switch
FLOW = None
DISPLAY = {"bus": 0, "clock": 21, "data": 20, "button": 22}
FOLDER = "flash/"
