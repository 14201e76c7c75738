"""What stands where in the registers of the virtual board, and what the values mean: for the chip's side and for the host."""

SLOT_PIN = 0
SLOT_VALUE_MC = 32
SLOT_FAULT = 40
SLOT_ROM_AT = 48
SLOT_MISHAP = 64
SLOT_WATCHDOG_MS = 65
SLOT_FED = 66
SLOT_RESET = 67
SLOT_CAUSE_OF_START = 68
SLOT_BOOTS = 69
SLOT_WIRE = 70
SLOT_CLOCK_HELD = 71
SLOT_CLOCK_MS = 72
SLOT_TIMER_MS = 73
SLOT_DATA_LINE = 74
SLOT_PIN_STUCK = 80
SLOT_CONTACT = 112
SLOTS = 128

PIN_FLOATING = -1
PWRON_RESET = 1
WDT_RESET = 3

MISHAP_NONE = 0
MISHAP_RAISE = 1
MISHAP_HANG = 2

# One a sensor: what is wrong with its element, its chip or its cable.
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

# One an output: what is wrong with its relay's contact.
CONTACT_GOOD = 0
CONTACT_WELDED = 1
CONTACT_BURNT = 2
CONTACT_CHATTERS = 3

# A line that does not move: a pin, the 1-Wire bus, the data line of the MAX31865.
LINE_FREE = 0
LINE_LOW = 1
LINE_HIGH = 2
