"""A generic ESP32-S3 module. Its radio stays off.

Connect: relays at 4 to 7 and 14, 10 kOhm from each to ground; MAX31865 at 10 to 13 (SPI1); 1-Wire
at 8 with 4.7 kOhm to 3V3; display at 17 and 18 (I2C0), its button at 16 to ground; bench jumper
from 15 to ground; a light with 470 ohm at 21.
"""

NAME = "esp32_s3"
PLATFORM = "esp32"
CHIP = "esp32s3"
PERIOD_MS = 1000
LEASE_MS = 3000
WATCHDOG_MS = 8000
# pin and energising level of each output: collector pump, tank pump, dump valve power, alarm, air
# fan (leave the last out where there is none)
RELAYS = ((4, 1), (5, 1), (6, 1), (7, 1), (14, 1))
# what the alarm contact says without power: "silent", or "alarm" (wiring draws either)
ALARM_RESTS = "silent"
# inputs that see the contacts on the bench, contact to ground, in the order of the outputs
READ_BACK = None
BENCH_JUMPER = 15
STATUS_LED = (21, 1)
ONE_WIRE = 8
RTD = {
    "bus": 1,
    "clock": 12,
    "to_chip": 11,
    "from_chip": 13,
    "select": 10,
    "reference_ohm": 4000,
    "nominal_ohm": 1000,
    "wires": 2,
    "mains_hz": 50,
}
# sensor, pin, series resistor in ohm, resistance at 25 C in ohm, beta in K; free converter pins: 1,
# 2, 9
NTC = ()
# pin and pulses per litre of a flow meter in the roof loop, 0 pulses for a switch
FLOW = None
DISPLAY = {"bus": 0, "clock": 18, "data": 17, "button": 16}
FOLDER = ""
