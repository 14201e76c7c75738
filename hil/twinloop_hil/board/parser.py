"""Options of `twinloop board`, `twinloop wiring` and `twinloop doctor`; nothing is imported here that `--help` does not need."""

from __future__ import annotations

COMMANDS = ("board", "wiring", "doctor")
PORT_HELP = "`virtual`, a serial device, or any URL of pyserial (default: the only board that is plugged in)"


def add_common(parser) -> None:
    """Which board, and how to answer."""
    parser.add_argument("--port", help=PORT_HELP)
    parser.add_argument(
        "--micropython", metavar="PATH", help="the MicroPython executable of the virtual board (default: installed)"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else on standard output")


def add_parsers(commands, caution: str) -> None:
    """Add the subcommands; `caution` stands below their help."""
    board = commands.add_parser("board", help="put the firmware on a board, fit, watch and commission it", epilog=caution)
    actions = board.add_subparsers(dest="action", metavar="ACTION", required=True)

    def add(name: str, words: str, description: str = ""):
        parser = actions.add_parser(name, help=words, description=description or words, epilog=caution)
        add_common(parser)
        return parser

    listing = actions.add_parser("list", help="serial ports, and which of them looks like a board", epilog=caution)
    listing.add_argument("--ask", action="store_true", help="say hello to each (this restarts some ESP32 boards)")
    listing.add_argument("--json", action="store_true", help="print one JSON document and nothing else on standard output")

    flash = add(
        "flash",
        "compile the firmware and put it on a board",
        "Compile the firmware, put it into a new folder, compare every file, switch, restart and check. Settings and sensors stay; "
        "a cut on the way leaves the old firmware running. The board comes back on the bench. Take mains off the relays before.",
    )
    flash.add_argument("board", help="pico, pico_w, pico_2, esp32, esp32_s3, virtual, or the path of a .py file of your own")
    add("status", "versions, hashes, state, readings, relays, why it last started")
    settings = add("settings", "show settings (name, value, range, default), or change some together")
    settings.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="change a setting: tank_limit=75C, start_difference=8K, minimum_run=2min (C or F); may be repeated: all hold or none",
    )
    add("log", "what happened, from the board's flash and memory")
    watch = add("watch", "readings, duty and relays as they change")
    watch.add_argument("--every", type=float, default=1.0, metavar="S", help="seconds between two looks, 0.2 to 60 (default: 1)")
    watch.add_argument("--seconds", type=float, metavar="S", help="end after so long (default: until interrupted)")
    watch.add_argument("--record", metavar="FILE", help="write a CSV trace: a row a look, temperatures in C, unknown ones empty")
    identify = add(
        "identify",
        "warm one sensor by hand; the board learns which chip it is",
        "Warm one DS18B20 in your hand: the chip whose reading rises alone gets the role. On the bench only.",
    )
    identify.add_argument("sensor", help="the role: tank_low, tank_high, loop_supply, loop_return, outdoor, tap or exchanger")
    identify.add_argument(
        "--rom", metavar="HEX", help="give the role to this ROM code (16 hex digits), without warming; `none` clears it"
    )
    identify.add_argument(
        "--wait", type=float, default=120.0, metavar="S", help="seconds to wait for warmth, 5 to 600 (default: 120)"
    )
    calibrate = add(
        "calibrate",
        "correct a sensor to a handheld thermometer, within 5 K",
        "Give what a thermometer you trust reads at the sensor's place, at rest: 61.3C or 142F.",
    )
    calibrate.add_argument("sensor", help="a sensor's name, such as tank_low")
    calibrate.add_argument("reading", nargs="?", help="what the thermometer reads, with its unit: 61.3C, 142F")
    calibrate.add_argument("--undo", action="store_true", help="go back to the offset before")
    hand = add(
        "hand",
        "hold one output by hand for a while; limits stay in force",
        "Hold one output by hand. Every limit stays in force: what a limit refuses is not switched on.",
    )
    hand.add_argument("output", help="collector_pump, tank_pump or dump_valve_power; `none` lets go of all")
    hand.add_argument("--off", action="store_true", help="hold it off (default: on)")
    hand.add_argument("--seconds", type=int, default=60, metavar="S", help="for so long, 1 to 3600 (default: 60)")
    for name, words, top in (
        ("purge", "both pumps on and the valve to and fro while the collector is cool, to drive air out", 7200),
        ("maintenance", "every pump off while somebody works on the station", 900),
    ):
        upkeep = add(name, words)
        upkeep.add_argument("--seconds", type=int, default=top // 2, metavar="S", help=f"0 (end it) to {top} (default: {top // 2})")
    commission = add(
        "commission",
        "a checklist that ends in service",
        "What the board can check is checked; what only hands and eyes can check is asked. Then the board is in service.",
    )
    commission.add_argument("--yes", action="store_true", help="say yes to every question about what you have checked by hand")

    wiring = commands.add_parser("wiring", help="wiring table and drawing of a board", epilog=caution)
    wiring.add_argument("board", help="pico, pico_w, pico_2, esp32, esp32_s3, virtual, or the path of a .py file of your own")
    wiring.add_argument("--out", metavar="FILE", help="where the drawing goes, SVG (default: wiring-BOARD.svg here)")
    wiring.add_argument("--json", action="store_true", help="print one JSON document and nothing else on standard output")

    doctor = commands.add_parser("doctor", help="what is missing on this computer, one fix a line")
    doctor.add_argument("--json", action="store_true", help="print one JSON document and nothing else on standard output")


def run(options, quantities) -> int:
    """Carry a command out; returns the exit status. `quantities` turns text with units into settings and back.

    Raises ValueError, one line, when the call or the input was wrong.
    """
    if options.command == "wiring":
        from . import wiring

        return wiring.main(options)
    if options.command == "doctor":
        from . import doctor

        return doctor.main(options)
    from . import call as board_call

    return board_call.main(options, quantities)
