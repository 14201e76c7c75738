"""Recipe "A bench check": listed, in its group, and passed by the virtual board."""

import json

import pytest
from twinloop_hil import checks
from twinloop_hil.virtual.board import NoInterpreterError, find_interpreter
from twinloop_sim import cli


def test_listed():
    assert "alarm-delay" in [check.name for check in checks.ALL if check.group == "sensors"]


def test_passed_by_the_virtual_board(capsys, tmp_path):
    try:
        find_interpreter()
    except NoInterpreterError as fault:
        pytest.skip(str(fault))
    assert cli.main(["bench", "alarm-delay", "--port", "virtual", "--json", "--out", str(tmp_path)]) == 0
    (found,) = json.loads(capsys.readouterr().out)["checks"]
    assert found["outcome"] == "pass"
    assert found["low"] < found["measured"] <= found["high"]
