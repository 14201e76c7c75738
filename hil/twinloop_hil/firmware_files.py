"""Where the firmware's own files are, what of them goes on a board, and boot.py with a board's pins filled in."""

from __future__ import annotations

from pathlib import Path

import twinloop

from .boards import problems

PACKAGE = Path(twinloop.__file__).parent
RELAYS_LINE = "RELAYS = ()\n"


def firmware_folder() -> Path:
    """The folder of boot.py, main.py and boards/: the checkout's, or the copy that an installed wheel carries."""
    checkout = PACKAGE.parent
    return checkout if (checkout / "boot.py").exists() else Path(__file__).parent / "board_files"


def board_names() -> list[str]:
    """Every board there is a data file for."""
    return sorted(path.stem for path in (firmware_folder() / "boards").glob("*.py"))


def board_path(name: str) -> Path:
    """A board's data file: one of ours by name, or anybody's own by a path ending in .py. Raises ValueError, one line."""
    if name.endswith(".py"):
        if not Path(name).is_file():
            raise ValueError(f"board {name}: no such file")
        return Path(name)
    if name not in board_names():
        raise ValueError(f"board {name}: not known; allowed {', '.join(board_names())}, or the path of a .py file")
    return firmware_folder() / "boards" / f"{name}.py"


def board_data(name: str) -> dict:
    """The names that a board's data file defines. Raises ValueError for a board that is not known or does not hold together."""
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
    """boot.py for a board: its relay pins stand in it as numbers, so that it needs no import but the pins themselves."""
    text = (firmware_folder() / "boot.py").read_text()
    if RELAYS_LINE not in text:
        raise RuntimeError("boot.py: the line for the relays is not there")
    return text.replace(RELAYS_LINE, f"RELAYS = {board_data(name)['RELAYS']!r}\n")
