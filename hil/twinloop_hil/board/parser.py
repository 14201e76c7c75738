"""Options of `twinloop board`, `wiring` and `doctor`. Imports only what `--help` needs."""

from __future__ import annotations

import argparse
import math

from twinloop.control import state as s
from twinloop.hands import HAND_TOP_S, MAINTENANCE_TOP_S, PURGE_TOP_S

from ..firmware_files import board_names

COMMANDS = ("board", "wiring", "doctor")
PORT_HELP = "`virtual`, a serial device, or any pyserial URL (default: the only board that is plugged in)"
JSON_HELP = "print one JSON document and nothing else on standard output"


def board_help() -> str:
    return f"{', '.join(board_names())}, or the path of your own .py file"


def texts(words: str, caution: str, description: str = "") -> dict[str, str]:
    """The texts of a parser: a phrase for the list of commands, a description, and the caution."""
    return {"help": words, "description": description or f"{words[0].upper()}{words[1:]}.", "epilog": caution}


def finite(text: str) -> float:
    """A number from the command line, not infinity and not "not a number"."""
    number = float(text)
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"{text}: allowed a number")
    return number


def add_common(parser) -> None:
    """Add the options for the board and for the form of the answer."""
    parser.add_argument("--port", help=PORT_HELP)
    parser.add_argument("--micropython", metavar="PATH", help="MicroPython executable of the virtual board (default: installed)")
    parser.add_argument("--json", action="store_true", help=JSON_HELP)


def add_parsers(commands, caution: str) -> None:
    """Add the subcommands; `caution` is the epilog of their help."""
    board = commands.add_parser("board", **texts("flash, set up, watch and commission a board", caution))
    actions = board.add_subparsers(dest="action", metavar="ACTION", required=True)

    def add(name: str, words: str, description: str = ""):
        parser = actions.add_parser(name, **texts(words, caution, description))
        add_common(parser)
        return parser

    listing = actions.add_parser("list", **texts("list serial ports and mark those that look like a board", caution))
    listing.add_argument("--ask", action="store_true", help="ask each board who it is (this restarts some ESP32 boards)")
    listing.add_argument("--json", action="store_true", help=JSON_HELP)
    add_flash(add)
    add("status", "show versions, state, readings, relays and why it last started")
    settings = add("settings", "show all settings, or change some of them together")
    settings.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="change a setting, such as tank_limit=75C, tank_limit=167F, start_difference=8K or minimum_run=2min; may be "
        "repeated: either all changes are valid or none is made",
    )
    add("log", "show the event log")
    add_watch(add)
    add_fitting(add)
    add_hands(add)
    add("filter", "the air heater's filter is new: count its hours from zero")
    add_copies(add)
    commission = add(
        "commission",
        "check the board and put it into service",
        "Put the board into service. It checks itself first; then you are asked about everything that only you can check.",
    )
    commission.add_argument("--yes", action="store_true", help="confirm every point of the list, which you have checked by hand")

    wiring = commands.add_parser("wiring", **texts("print a board's wiring table and draw it", caution))
    wiring.add_argument("board", help=board_help())
    wiring.add_argument("--out", metavar="FILE", help="SVG file of the drawing (default: wiring-BOARD.svg in this folder)")
    wiring.add_argument("--json", action="store_true", help=JSON_HELP)

    doctor = commands.add_parser("doctor", **texts("find what is missing on this computer, and how to fix it", ""))
    doctor.add_argument("--json", action="store_true", help=JSON_HELP)


def add_flash(add) -> None:
    flash = add(
        "flash",
        "compile the firmware and put it on a board",
        "Compile the firmware, upload it into a new folder, compare every file, switch, restart and check. Settings, sensor roles, "
        "log and meters stay. If anything interrupts the upload, the old firmware keeps running. "
        "Afterwards the board is on the bench. In service it needs its bench jumper closed, or its display's button held. Take "
        "mains off the relays first.",
    )
    flash.add_argument("board", help=board_help())


def add_watch(add) -> None:
    watch = add("watch", "show readings, duty and relays as they change")
    watch.add_argument("--every", type=finite, default=1.0, metavar="S", help="seconds between readings, 0.2 to 60 (default: 1)")
    watch.add_argument("--seconds", type=finite, metavar="S", help="stop after this many seconds, 0 or more (default: at Ctrl-C)")
    watch.add_argument("--record", metavar="FILE", help="record a CSV trace in a new file, temperatures in C, empty where unknown")
    watch.add_argument("--append", action="store_true", help="add the rows to a file that --record has written before")


def add_fitting(add) -> None:
    identify = add(
        "identify",
        "learn which chip is which sensor while you warm one by hand",
        "Warm one DS18B20 in your hand: the only chip that gets warmer is assigned to the sensor. On the bench only.",
    )
    roles = [name for number, name in enumerate(s.SENSOR_NAMES) if number != s.COLLECTOR]
    identify.add_argument("sensor", help=f"{', '.join(roles[:-1])} or {roles[-1]}")
    identify.add_argument("--rom", metavar="HEX", help="assign this ROM code (16 hex digits) without warming; `none` clears it")
    identify.add_argument(
        "--wait", type=finite, default=120, metavar="S", help="seconds to wait for warmth, 5 to 600 (default: 120)"
    )
    calibrate = add(
        "calibrate",
        "correct a sensor to a handheld thermometer, by 5 K at most",
        "Give what a thermometer you trust reads at the sensor's place, at rest: 61.3C or 142F.",
    )
    calibrate.add_argument("sensor", help="the sensor's name, such as tank_low")
    calibrate.add_argument("reading", nargs="?", help="the thermometer's reading with its unit: 61.3C, 142F")
    calibrate.add_argument("--undo", action="store_true", help="restore the previous offset")


def add_hands(add) -> None:
    hand = add(
        "hand",
        "hold one output on or off for a while; limits stay in force",
        "Hold one output on or off for a while. Every limit stays in force: an output that a limit forbids is not switched on.",
    )
    hand.add_argument("output", help=f"{', '.join(s.OUTPUT_NAMES[output] for output in s.MOVING)}, or `none` to release all")
    hand.add_argument("--off", action="store_true", help="hold the output off (default: on)")
    hand.add_argument("--seconds", type=int, default=60, metavar="S", help=f"for how long, 1 to {HAND_TOP_S} (default: 60)")
    for name, words, top in (
        ("purge", "run both pumps and move the valve while the collector is cool, to drive out air", PURGE_TOP_S),
        (
            "maintenance",
            "keep every pump off while somebody works on the station; no lock-out: switch mains off",
            MAINTENANCE_TOP_S,
        ),
    ):
        upkeep = add(name, words)
        upkeep.add_argument("--seconds", type=int, default=top // 2, metavar="S", help=f"0 (end it) to {top} (default: {top // 2})")


def add_copies(add) -> None:
    add("backup", "write settings, sensor roles and offsets to a file").add_argument(
        "file", help="a new file, such as my-board.toml"
    )
    restore = add(
        "restore",
        "put the settings, roles and offsets of a backup on a board",
        "Put the settings, sensor roles and offsets of a backup on this board or a replacement, all of them or none. On the bench "
        "only. What does not fit is refused; you are asked about sensors that are not on the bus.",
    )
    restore.add_argument("file", help="the file that `twinloop board backup` wrote")
    restore.add_argument("--yes", action="store_true", help="restore even if sensors are not on the bus")


def run(options) -> int:
    """The exit status of a command. Raises ValueError, one line, for a wrong call or input."""
    if options.command == "wiring":
        from . import wiring

        return wiring.main(options)
    if options.command == "doctor":
        from . import doctor

        return doctor.main(options)
    from . import actions

    return actions.main(options)
