"""Raspberry Pi Pico 2.

Connect: relays at GP10 to GP13 and GP7 through a transistor or a relay board that wants a high
level, 8.2 kOhm or less from each to ground (inputs of the RP2350 can hang at 2.2 V against weaker
ones); MAX31865 at GP16 to GP19 (SPI0); 1-Wire at GP22 with 4.7 kOhm to 3V3; display at GP4 and GP5
(I2C0), its button at GP6 to ground; bench jumper from GP14 to ground. The light is the one on the
board.
"""

NAME = "pico_2"
PLATFORM = "rp2"
CHIP = "rp2350"
PERIOD_MS = 1000
LEASE_MS = 3000
WATCHDOG_MS = 8000
# pin and energising level of each output: collector pump, tank pump, dump valve power, alarm, air
# fan (leave the last out where there is none)
RELAYS = ((10, 1), (11, 1), (12, 1), (13, 1), (7, 1))
# what the alarm contact says without power: "silent", or "alarm" (wiring draws either)
ALARM_RESTS = "silent"
# inputs that see the contacts on the bench, contact to ground, in the order of the outputs
READ_BACK = None
BENCH_JUMPER = 14
STATUS_LED = (25, 1)
ONE_WIRE = 22
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
# sensor, pin, series resistor in ohm, resistance at 25 C in ohm, beta in K; free converter pins:
# 26, 27, 28
NTC = ()
# pin and pulses per litre of a flow meter in the roof loop, 0 pulses for a switch
FLOW = None
DISPLAY = {"bus": 0, "clock": 5, "data": 4, "button": 6}
FOLDER = ""
