"""A generic ESP32 module. Its radio stays off.

Connect: relays at 25, 26, 27 and 33, 10 kOhm from each to ground; MAX31865 at 18, 19, 22 and 23
(VSPI); 1-Wire at 32 with 4.7 kOhm to 3V3; display at 13 and 21 (I2C0), its button at 35 to ground
with 10 kOhm to 3V3 (that pin has no pull of its own); bench jumper from 4 to ground; a light with
470 ohm at 14, which flickers at boot.
"""

NAME = "esp32"
PLATFORM = "esp32"
CHIP = "esp32"
PERIOD_MS = 1000
LEASE_MS = 3000
WATCHDOG_MS = 8000
# pin and energising level of each output: collector pump, tank pump, dump valve power, alarm.
# An air fan would be the fifth: leave the display out and take its pin 21.
RELAYS = ((25, 1), (26, 1), (27, 1), (33, 1))
# what the alarm contact says without power: "silent", or "alarm" (wiring draws either)
ALARM_RESTS = "silent"
# inputs that see the contacts on the bench, contact to ground, in the order of the outputs
READ_BACK = None
BENCH_JUMPER = 4
STATUS_LED = (14, 1)
ONE_WIRE = 32
RTD = {
    "bus": 2,
    "clock": 18,
    "to_chip": 23,
    "from_chip": 19,
    "select": 22,
    "reference_ohm": 4000,
    "nominal_ohm": 1000,
    "wires": 2,
    "mains_hz": 50,
}
# sensor, pin, series resistor in ohm, resistance at 25 C in ohm, beta in K; free converter pins:
# 34, 36, 39
NTC = ()
# pin and pulses per litre of a flow meter in the roof loop, 0 pulses for a switch
FLOW = None
DISPLAY = {"bus": 0, "clock": 13, "data": 21, "button": 35}
FOLDER = ""
