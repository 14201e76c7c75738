"""The wiring drawing as SVG: board, wires, blocks; loads and far ends of cables on the right."""

from __future__ import annotations

from html import escape

WIDTH = 1320
ROW = 26
TOP = 86
BOARD_LEFT, BOARD_RIGHT = 30, 190
BLOCK_LEFT, BLOCK_RIGHT = 250, 700
BARRIER = 730
LOAD_LEFT, LOAD_RIGHT = 800, 1290
GAP = 18
TITLES = {
    "relays": "relay board",
    "collector": "collector: resistance chip",
    "1-Wire": "1-Wire bus",
    "converter": "thermistors",
    "service": "jumper, light, flow",
    "display": "display, optional",
}
LOW_VOLTAGE = "Low-voltage side. Pins as the chip numbers them. Not the last safety device: see below."
MAINS_SIDE = "mains side: licensed trades only (alarm: potential-free)"
CUT_OUT = "insulating barrier; cut-out in the supply of tank_pump and dump_valve_power"
INK, PAPER, WIRE, FILL, WARN, MAINS = "#1c2733", "#ffffff", "#3a5f7d", "#eef2f5", "#8a2f1c", "#b5552a"


def text(x: float, y: float, words: str, size: int = 13, weight: str = "normal", fill: str = INK, anchor: str = "start") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" font-weight="{weight}" fill="{fill}" text-anchor="{anchor}">'
        f"{escape(words)}</text>"
    )


def box(left: float, top: float, right: float, bottom: float, stroke: str = INK, fill: str = FILL, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{left:g}" y="{top:g}" width="{right - left:g}" height="{bottom - top:g}" rx="5" fill="{fill}" '
        f'stroke="{stroke}" stroke-width="1.4"{dashed}/>'
    )


def line(x1: float, y1: float, x2: float, y2: float, stroke: str = WIRE, width: float = 1.6) -> str:
    return f'<path d="M{x1:g} {y1:g}L{x2:g} {y2:g}" stroke="{stroke}" stroke-width="{width:g}" fill="none"/>'


def contact(x: float, y: float, closed: bool) -> str:
    """The symbol of a contact, open or closed without power."""
    return (
        line(x, y, x + 12, y, MAINS)
        + line(x + 12, y, x + (38 if closed else 32), y - (5 if closed else 10), MAINS)
        + (line(x + 36, y, x + 36, y - 8, MAINS) if closed else "")
        + line(x + 36, y, x + 50, y, MAINS)
        + f'<circle cx="{x + 12:g}" cy="{y:g}" r="2.4" fill="{MAINS}"/><circle cx="{x + 36:g}" cy="{y:g}" r="2.4" fill="{MAINS}"/>'
    )


def pair_height(row) -> float:
    """Height of one connection: two lines where something has to be fitted."""
    return ROW + (15 if row.fit else 0)


def groups_of(rows) -> list[tuple[str, list]]:
    """Connections by group, in order."""
    return [(group, [row for row in rows if row.group == group]) for group in dict.fromkeys(row.group for row in rows)]


def draw_row(row, y: float) -> list[str]:
    """One wire from the board into its block."""
    parts = [line(BOARD_RIGHT, y, BLOCK_LEFT, y), text(BOARD_RIGHT - 10, y + 4, row.pin, 13, "bold", anchor="end")]
    parts.append(text(BLOCK_LEFT + 14, y + 4, row.to))
    if row.fit:
        parts.append(text(BLOCK_LEFT + 28, y + 19, f"fit: {row.fit}", 11, fill=WARN))
    return parts


def draw_load(contact_row, y: float) -> list[str]:
    """A contact behind the barrier and its load."""
    name, kind, load = contact_row
    return [
        f'<path d="M{BLOCK_RIGHT} {y:g}H{BARRIER + 30}V{y - 6:g}" stroke="{INK}" stroke-dasharray="3 3" fill="none"/>',
        line(BARRIER + 6, y, BARRIER + 14, y, MAINS),
        contact(BARRIER + 14, y, kind.startswith("normally closed")),
        line(BARRIER + 64, y, LOAD_LEFT, y, MAINS),
        text(LOAD_LEFT + 8, y + 4, name, 13, "bold"),
        text(LOAD_LEFT + 8, y + 19, f"{kind}; {load.split(': ', 1)[1]}", 11),
    ]


def draw_far_end(lines: list[str], y: float, height: float) -> list[str]:
    """The box at the far end of a block's cables."""
    middle = y + height / 2
    half = 9 + 9 * len(lines)
    parts = [line(BLOCK_RIGHT, middle, LOAD_LEFT, middle), box(LOAD_LEFT, middle - half, LOAD_RIGHT, middle + half)]
    return parts + [text(LOAD_LEFT + 8, middle - half + 22 + 18 * place, words) for place, words in enumerate(lines)]


def draw(name: str, rows, contacts, far_ends, cautions) -> str:
    """The drawing as SVG. `contacts`: output, contact, load; `far_ends`: lines by group."""
    parts: list[str] = []
    y = TOP
    for group, members in groups_of(rows):
        height = 30 + sum(pair_height(row) for row in members)
        parts.append(box(BLOCK_LEFT, y, BLOCK_RIGHT, y + height))
        parts.append(text(BLOCK_LEFT + 10, y + 18, TITLES[group], 13, "bold"))
        at = y + 40
        for place, row in enumerate(members):
            parts += draw_row(row, at)
            if group == "relays" and place < len(contacts):
                parts += draw_load(contacts[place], at)
            at += pair_height(row)
        if group == "relays":
            parts.append(box(LOAD_LEFT, y, LOAD_RIGHT, y + height, MAINS, "none", "6 4"))
            parts.append(text(LOAD_LEFT + 8, y + 16, MAINS_SIDE, 11, fill=MAINS))
            parts.append(line(BARRIER, y - 14, BARRIER, y + height + 14, MAINS, 4))
            parts.append(text(BARRIER + 8, y + height + 26, CUT_OUT, 11, fill=MAINS))
        if group in far_ends:
            parts += draw_far_end(far_ends[group], y, height)
        y += height + GAP
    board = [
        box(BOARD_LEFT, TOP, BOARD_RIGHT, y - GAP),
        text((BOARD_LEFT + BOARD_RIGHT) / 2 - 30, TOP + 22, name, 15, "bold", anchor="middle"),
    ]
    notes_top = y + 12
    for place, words in enumerate(cautions):
        parts.append(text(BOARD_LEFT, notes_top + 20 * place, f"! {words}", 12, fill=WARN))
    height = notes_top + 20 * len(cautions) + 10
    head = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" width="{WIDTH}" height="{height:g}" '
        f'font-family="sans-serif" role="img" aria-label="Wiring of the station controller on {escape(name)}">',
        f'<rect width="{WIDTH}" height="{height:g}" fill="{PAPER}"/>',
        text(BOARD_LEFT, 34, f"Station controller on {name}: wiring", 20, "bold"),
        text(BOARD_LEFT, 58, LOW_VOLTAGE, 13, fill=WARN),
    ]
    return "\n".join([*head, *board, *parts, "</svg>"]) + "\n"
