"""Tables of docs and the scenario schema, made from the code."""

from pathlib import Path

MARK = "<!-- from here on: generated -->\n"


def renewed(text: str, tables: str) -> str:
    """The page with its generated part replaced."""
    return text.split(MARK)[0] + MARK + "\n" + tables


def renew(page: str, tables: str) -> None:
    """Replace the generated part of a page of docs."""
    path = Path(page)
    path.write_text(renewed(path.read_text(), tables))
