"""The virtual board's registers, for chip and host: which slot holds what, and its values."""

PINS = 32
# Room for more sensors and outputs than any station has today.
SENSORS_TOP = 16
OUTPUTS_TOP = 16

SLOT_PIN = 0
SLOT_PIN_STUCK = SLOT_PIN + PINS
SLOT_VALUE_MC = SLOT_PIN_STUCK + PINS
SLOT_FAULT = SLOT_VALUE_MC + SENSORS_TOP
SLOT_ROM_AT = SLOT_FAULT + SENSORS_TOP
SLOT_CONTACT = SLOT_ROM_AT + SENSORS_TOP
SLOT_MISHAP = SLOT_CONTACT + OUTPUTS_TOP
SLOT_WATCHDOG_MS = SLOT_MISHAP + 1
SLOT_FED = SLOT_WATCHDOG_MS + 1
SLOT_RESET = SLOT_FED + 1
SLOT_CAUSE_OF_START = SLOT_RESET + 1
SLOT_BOOTS = SLOT_CAUSE_OF_START + 1
SLOT_WIRE = SLOT_BOOTS + 1
# The chip reads these two together.
SLOT_CLOCK_HELD = SLOT_WIRE + 1
SLOT_CLOCK_MS = SLOT_CLOCK_HELD + 1
SLOT_TIMER_MS = SLOT_CLOCK_MS + 1
SLOT_DATA_LINE = SLOT_TIMER_MS + 1
# For a board that stays: how fast the station's clock goes, whether its sensors lie on the table,
# and a second terminal's requests (hand.py), which the board's process takes away: the power
# switch, and milliseconds for which to hold each sensor in a hand.
SLOT_SPEED = SLOT_DATA_LINE + 1
SLOT_LOOSE = SLOT_SPEED + 1
SLOT_POWER = SLOT_LOOSE + 1
SLOT_WARM = SLOT_POWER + 1
SLOTS = SLOT_WARM + SENSORS_TOP

PIN_FLOATING = -1
PWRON_RESET = 1
WDT_RESET = 3

MISHAP_NONE = 0
MISHAP_RAISE = 1
MISHAP_HANG = 2

# One slot per sensor: the fault of its element, its chip or its cable.
FAULT_NONE = 0
FAULT_OPEN = 1
FAULT_SHORT = 2
FAULT_GONE = 3
FAULT_CRC = 4
FAULT_CRC_ONCE = 5
FAULT_POWER = 6
FAULT_DEAF = 7
FAULT_VOLTAGE = 8
FAULT_GLITCH = 9
FAULT_BUSY = 10
FAULT_STRANGE = 11
FAULT_FLICKER = 12

# One slot per output: the fault of its relay's contact.
CONTACT_GOOD = 0
CONTACT_WELDED = 1
CONTACT_BURNT = 2
CONTACT_CHATTERS = 3

# A line stuck at a level: a pin, the 1-Wire bus, the data line of the MAX31865.
LINE_FREE = 0
LINE_LOW = 1
LINE_HIGH = 2

# Requests at the power switch.
POWER_ASKED_OFF = 1
POWER_ASKED_ON = 2
