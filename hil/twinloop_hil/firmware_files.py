"""The firmware's files, the boards' data, and boot.py with a board's pins filled in."""

from __future__ import annotations

from pathlib import Path

import twinloop

from .boards import problems

PACKAGE = Path(twinloop.__file__).parent
RELAYS_LINE = "RELAYS = ()\n"


def firmware_folder() -> Path:
    """The folder of boot.py, main.py and boards/, in the checkout or in an installed wheel."""
    checkout = PACKAGE.parent
    return checkout if (checkout / "boot.py").exists() else Path(__file__).parent / "board_files"


def board_names() -> list[str]:
    """The names of all boards that have a data file."""
    return sorted(path.stem for path in (firmware_folder() / "boards").glob("*.py"))


def board_path(name: str) -> Path:
    """The data file of a board, by name or as the path of a .py file. ValueError, one line."""
    if name.endswith(".py"):
        if not Path(name).is_file():
            raise ValueError(f"board {name}: no such file")
        return Path(name)
    if name not in board_names():
        raise ValueError(f"board {name}: not known; allowed {', '.join(board_names())}, or the path of a .py file")
    return firmware_folder() / "boards" / f"{name}.py"


def board_data(name: str) -> dict:
    """The data of a board, by field name. Raises ValueError for an unknown or faulty board."""
    path = board_path(name)
    data: dict = {}
    try:
        exec(compile(path.read_text(), str(path), "exec"), data)
    except Exception as fault:
        raise ValueError(f"board {name}: {type(fault).__name__}: {fault}") from None
    wrong = problems(data)
    if wrong:
        raise ValueError(f"board {wrong[0]}" + (f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""))
    return data


def boot_text(name: str) -> str:
    """boot.py for a board, with its relay pins as numbers, so that it imports nothing but Pin."""
    text = (firmware_folder() / "boot.py").read_text()
    if RELAYS_LINE not in text:
        raise RuntimeError("boot.py: no line for the relays")
    return text.replace(RELAYS_LINE, f"RELAYS = {board_data(name)['RELAYS']!r}\n")
