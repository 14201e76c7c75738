"""Options of `twinloop virtual`. Imports only what `--help` needs."""

from __future__ import annotations

START = "start"
DEFAULT_FOLDER = "virtual-board"
FOLDER_HELP = f"the board's folder (default: {DEFAULT_FOLDER})"
# Word, what may follow, help.
SWITCHES = (
    ("power", ("off", "on"), "cut or restore its power, at any moment"),
    ("jumper", ("closed", "open"), "close or open its bench jumper"),
    ("button", ("held", "free"), "hold its display's button down, or let it go"),
    ("sensors", ("fitted", "loose"), "put its bus sensors into their pockets, or on the table, where a new board has them"),
)


def add_parser(commands, caution: str) -> None:
    """Add the subcommand; `caution` is the epilog of its help."""
    virtual = commands.add_parser(
        "virtual",
        help="run a virtual board that stays, to rehearse with",
        description="Run a virtual board with a simulated station behind its chips, until Ctrl-C. A new one has MicroPython and "
        "nothing else; flash it with `twinloop board flash virtual`. `twinloop virtual FOLDER` is short for `twinloop virtual "
        "start FOLDER`; the other words are for a second terminal.",
        epilog=caution,
    )
    words = virtual.add_subparsers(dest="action", metavar="WORD", required=True)

    def add(name: str, text: str):
        return words.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")

    start = add(START, "start the board; its flash stays in the folder")
    start.add_argument("folder", nargs="?", default=DEFAULT_FOLDER, metavar="FOLDER", help=FOLDER_HELP)
    start.add_argument("--speed", type=int, default=1, metavar="N", help="how many times as fast its time goes (default: 1)")
    start.add_argument("--scenario", metavar="NAME", help="plant and weather, as in `twinloop simulate` (default: washhouse-week)")
    start.add_argument("--micropython", metavar="PATH", help="its MicroPython executable (default: installed)")
    warm = add("warm", "hold one of its sensors in a warm hand")
    warm.add_argument("sensor", metavar="SENSOR", help="the sensor's name, such as tank_low")
    warm.add_argument("--seconds", type=int, default=60, metavar="S", help="for how long, 1 to 600 (default: 60)")
    for name, states, text in SWITCHES:
        add(name, text).add_argument("state", choices=states, help=" or ".join(states))
    add("speed", "let its time go faster, or real again").add_argument("times", type=int, metavar="N", help="1 is real time")
    for word, parser in words.choices.items():
        if word != START:
            parser.add_argument("folder", nargs="?", default=DEFAULT_FOLDER, metavar="FOLDER", help=FOLDER_HELP)
    parse = virtual.parse_known_args
    virtual.parse_known_args = lambda given, namespace=None: parse(with_start(given, words.choices), namespace)


def with_start(given: list[str], words) -> list[str]:
    """The arguments, led by a word; `start` may be left out."""
    if given and (given[0] in words or given[0] in ("-h", "--help")):
        return given
    return [START, *given]
