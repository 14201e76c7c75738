"""The small display, read off the model of its chip."""

import pytest
from twinloop.control import reasons
from twinloop.reason_texts import REASON_TEXTS

from .test_chips import Chips, run_script


@pytest.fixture(scope="module")
def shown(interpreter):
    """What the script found on a board with a display."""
    with Chips(interpreter) as board:
        return run_script(board, "display_script.py")


def test_first_page_is_duty_and_hottest(shown):
    """The duty in words, and the hotter tank sensor to a tenth."""
    assert shown["on"]
    assert shown["pages"][0] == ["night cooling", "hottest in tank", "62.0 C"]


def test_a_press_walks_on(shown):
    """The reason as a sentence, the sensors by threes, then the first page again."""
    reason = " ".join(shown["pages"][1])
    assert reason == REASON_TEXTS[reasons.NO_DIFFERENCE]
    assert shown["pages"][2][:4] == ["collector", "-7.8 C", "tank low", "41.0 C"]
    assert shown["pages"][3][:2] == ["loop supply", "---"]
    assert shown["pages"][5] == ["room", "0.0 C"]
    assert shown["pages"][6] == shown["pages"][0]


def test_quiet_and_back_to_the_first_page(shown):
    """No writes while nothing changes; after a minute the first page returns."""
    assert shown["quiet"]
    assert shown["after_a_minute"] == shown["pages"][0]
