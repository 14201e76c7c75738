"""The JUnit file of a bench run: its counts match its cases, and any XML parser can read it."""

import xml.sax
from datetime import datetime
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest
from twinloop.control import settings as cfg
from twinloop_hil.bench.junit import clean, write_junit
from twinloop_hil.bench.record import Record
from twinloop_hil.checks.frame import Check, Result
from twinloop_hil.checks.operator import Operator

BROKEN = 'port x: \x00\x1b[31m "<&>\ud800 \ufffe'


def record(results, chosen=()):
    """A closed run with these results."""
    facts = {"board": "pico", "interpreter": "1.29.0", "firmware": "f82a6627", "schema": "7277ee1f"}
    values = [row[4] for row in cfg.TABLE]
    values[cfg.AWAY] = 1
    client = SimpleNamespace(facts=facts)
    found = Record(SimpleNamespace(client=client, values=values, port=BROKEN, board=None, operator=Operator(False)), list(chosen))
    found.begun = datetime.fromisoformat("2026-03-14T09:41:00+01:00")
    found.results = results
    found.close()
    return found


RESULTS = [
    Result("link", "round-trip", "pass", 1.25, "ms", 0, 5, "median", wall_s=0.5),
    Result("link", "gone", "fail", None, "s", None, None, BROKEN, wall_s=3.25),
    Result("switching", "start-difference", "fail", 8.5, "K", 8.0, 8.1, "when charging began", wall_s=0.25),
    Result("switching", "stop-difference", "skipped", None, "K", None, None, "the bench is broken", wall_s=0.0),
    Result("relays", "relay-lease", "skipped", None, "s", None, None, "needs a read-back wire", wall_s=0.0),
]


@pytest.fixture
def root(tmp_path):
    """The root of the parsed file."""
    write_junit(tmp_path / "junit.xml", record(list(RESULTS)))
    xml.sax.parse(str(tmp_path / "junit.xml"), xml.sax.ContentHandler())
    return ElementTree.parse(tmp_path / "junit.xml").getroot()


def test_counts_match_the_cases(root):
    for part in (root, *root):
        cases = list(part.iter("testcase"))
        assert int(part.get("tests")) == len(cases)
        assert int(part.get("failures")) == sum(case.find("failure") is not None for case in cases)
        assert int(part.get("skipped")) == sum(case.find("skipped") is not None for case in cases)
        assert float(part.get("time")) == pytest.approx(sum(float(case.get("time")) for case in cases))
    assert [(suite.get("name"), suite.get("tests")) for suite in root] == [("link", "2"), ("switching", "2"), ("relays", "1")]
    assert (root.get("tests"), root.get("failures"), root.get("skipped")) == ("5", "2", "2")


def test_messages_have_figures_limits_and_reasons(root):
    by_name = {case.get("name"): case for case in root.iter("testcase")}
    message = by_name["start-difference"].find("failure").get("message")
    assert message == "measured 8.5 K, allowed 8 to 8.1 K: when charging began"
    assert by_name["relay-lease"].find("skipped").get("message") == "needs a read-back wire"
    assert by_name["round-trip"].find("system-out").text == "measured 1.25 ms, allowed 0 to 5 ms: median"
    assert by_name["gone"].find("failure").get("message") == 'port x: ??[31m "<&>? ?'


def test_properties_name_board_versions_and_settings(root):
    """Every suite has the properties, for readers that look nowhere else."""
    for suite in root:
        said = {part.get("name"): part.get("value") for part in suite.find("properties")}
        assert (said["board"], said["micropython"], said["firmware"]) == ("pico", "1.29.0", "f82a6627")
        assert (said["settings_schema"], said["settings_changed"]) == ("7277ee1f", "away")
        assert len(said["settings_crc"]) == 8 and said["begun"] == "2026-03-14T09:41:00+01:00"
        assert said["ended_early"] == "no"


def test_checks_that_were_not_made_are_there(tmp_path):
    checks = [Check(name, "what", "K", 1, None, group="switching") for name in ("a", "b", "c")]
    kept = record([checks[0].failed("no")], checks)
    write_junit(tmp_path / "junit.xml", kept)
    root = ElementTree.parse(tmp_path / "junit.xml").getroot()
    assert (root.get("tests"), root.get("failures"), root.get("skipped")) == ("3", "1", "2")
    assert kept.early == "before b"
    assert all("ended early, before b" in part.get("message") for part in root.iter("skipped"))


def test_clean_keeps_what_xml_can_hold():
    """Letters of any script, tabs and line ends stay; everything else becomes a question mark."""
    assert clean("Grüße, 水\t\n\U0001f600") == "Grüße, 水\t\n\U0001f600"
    assert clean("\x0b\x1f\udfff\uffff") == "????"
