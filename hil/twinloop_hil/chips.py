"""What each microcontroller allows at its pins, from its data sheet."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Chip:
    """One microcontroller on its usual module; pins carry the maker's numbers."""

    pins: frozenset[int]
    refused: dict[int, str]  # pin -> why it may not be used
    not_relays: dict[int, str]  # pin -> why it may not drive a relay
    converter: frozenset[int]
    second_converter: frozenset[int] = frozenset()
    input_only: frozenset[int] = frozenset()
    watchdog_top_ms: int = 0  # 0: no limit
    pull_ohm: int = 10000  # external pull at each relay pin
    at_reset: str = ""
    cautions: tuple[str, ...] = field(default=())
    spi_buses: tuple[int, ...] = (0, 1)


def spread(reason: str, *pins: int) -> dict[int, str]:
    """The same reason for several pins."""
    return dict.fromkeys(pins, reason)


STRAPPING = "a strapping pin: its level at reset decides how the chip boots, and the chip's own pull changes it"
PULSES = "driven by the boot ROM: a relay would click at each start"
CONSOLE = "belongs to the serial console"
FLASH = "belongs to the flash chip"
RADIO = "belongs to the radio on this board"
RP_RESET = "inputs with a weak pull to ground"
ESP_RESET = "inputs, floating or with a weak pull"
UART0 = "a pin of the first serial port: whatever is plugged in there would switch the relay"

RP_FREE = {*range(23), 26, 27, 28}
# source: RP2040 and RP2350 data sheets, Pico board data sheets; RP2350 erratum E9.
RP2040 = Chip(
    pins=frozenset({*RP_FREE, 25}),
    refused={**spread("belongs to the board's supply", 23, 24, 29)},
    not_relays={**spread(UART0, 0, 1), 25: "the board's own light"},
    converter=frozenset({26, 27, 28}),
    watchdog_top_ms=8388,
    at_reset=RP_RESET,
)
RP2040W = Chip(
    pins=frozenset(RP_FREE),
    refused=spread(RADIO, 23, 24, 25, 29),
    not_relays=spread(UART0, 0, 1),
    converter=frozenset({26, 27, 28}),
    watchdog_top_ms=8388,
    at_reset=RP_RESET,
)
RP2350 = Chip(
    pins=RP2040.pins,
    refused=RP2040.refused,
    not_relays=RP2040.not_relays,
    converter=RP2040.converter,
    watchdog_top_ms=16777,
    pull_ohm=8200,
    at_reset=RP_RESET,
    cautions=("Inputs of this chip can stick at about 2.2 V against its pull-down: fit external pulls of 8.2 kOhm or less",),
)
# source: ESP32 data sheet and MicroPython's quick reference; which pins pulse at boot is from
# memory: check with a scope.
ESP32 = Chip(
    pins=frozenset({*range(6), *range(12, 20), *range(21, 24), *range(25, 28), *range(32, 40)} - {37, 38}),
    refused={**spread(FLASH, *range(6, 12)), **spread(CONSOLE, 1, 3)},
    not_relays={
        **spread(STRAPPING, 0, 2, 5, 12, 15),
        14: PULSES,
        **spread("belongs to the memory of modules with PSRAM", 16, 17),
    },
    converter=frozenset(range(32, 40)),
    second_converter=frozenset({0, 2, 4, *range(12, 16), *range(25, 28)}),
    input_only=frozenset(range(34, 40)),
    at_reset=ESP_RESET,
    cautions=(
        "After a reset, pins of this chip can keep their levels for about a second, until boot.py drives them safe; external "
        "pulls do not help",
    ),
    spi_buses=(1, 2),
)
ESP32_S3 = Chip(
    pins=frozenset({*range(22), *range(33, 49)}),
    refused={
        **spread(FLASH, *range(26, 33)),
        **spread("belongs to the memory of modules with octal PSRAM", *range(33, 38)),
        **spread("belongs to USB", 19, 20),
        **spread(CONSOLE, 43, 44),
    },
    not_relays={**spread(STRAPPING, 0, 3, 45, 46), 18: "outputs a short high level at power-on"},
    converter=frozenset(range(1, 11)),
    second_converter=frozenset(range(11, 21)),
    at_reset=ESP_RESET,
    cautions=ESP32.cautions,
    spi_buses=(1, 2),
)
# To the validator the virtual board is like any other.
VIRTUAL = Chip(
    pins=frozenset(range(32)),
    refused={},
    not_relays={},
    converter=frozenset({26, 27, 28}),
    watchdog_top_ms=8388,
    at_reset="floating",
)
CHIPS = {"rp2040": RP2040, "rp2040w": RP2040W, "rp2350": RP2350, "esp32": ESP32, "esp32s3": ESP32_S3, "virtual": VIRTUAL}
PLATFORMS = ("rp2", "esp32", "linux")
