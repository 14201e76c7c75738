"""The page of a bench run: complete, nothing fetched or injected, no library needed."""

import copy
import pickle
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_sim.sheets import bench, ramps
from twinloop_sim.sheets.bench import BenchRun

from ..shared import Elements

HOSTILE = "</script><img src=x onerror=alert(1)> \"quoted\" 'it' & $x^2$ \udcff"
IDLE, VALVE, PUMPS = (0, 0, 0, 0, 0), (0, 0, 1, 0, 0), (1, 1, 1, 0, 0)


def check(group, name, outcome, measured=None, unit="K", low=None, high=None, detail="detail"):
    found = {"group": group, "name": name, "outcome": outcome, "measured": measured, "unit": unit}
    return {**found, "low": low, "high": high, "detail": detail}


CHECKS = [
    check("link", "round-trip", "pass", 1234567.0, "us", 0, 2000000, "median of 100"),
    check("switching", "start-difference", "pass", 8.0, "K", 8.0, 8.1, "collector above tank_low when charging began"),
    check("switching", "stop-difference", "fail", 3.5, "K", 2.9, 3.0, "collector above tank_low when charging ended"),
    check("switching", "frost-threshold", "pass", -3.9, "C", -4.0, -3.9, "exchanger when frost_guard began"),
    check("switching", "dump-start", "fail", detail="waited 25000 s of station time for dumping"),
    check("relays", "relay-lease", "skipped", unit="s", detail="needs a read-back wire (READ_BACK in the board file)"),
]


def course(sensor, begin_mc, by_mc, steps, before, after):
    """A recording: one sensor moves in each step of 5 s, and the relays change with the last."""
    readings = dict.fromkeys(s.SENSOR_NAMES, 20000) | {"tank_low": 30000, sensor: begin_mc}
    rows = []
    for step in range(1, steps + 1):
        readings[sensor] += by_mc
        rows.append((5.0 * step, dict(readings), after if step == steps else before))
    return rows, [(rows[-1][0], sensor, readings[sensor])]


RECORDINGS = {
    "start-difference": course("collector", 35000, 100, 30, IDLE, VALVE),
    "stop-difference": course("collector", 36500, -100, 30, PUMPS, IDLE),
    "dump-start": (course("collector", 80000, 500, 30, IDLE, IDLE)[0], []),
    "round-trip": course("collector", 35000, 100, 30, IDLE, IDLE),
}


def sample_run(**changes):
    counts = {word: sum(row["outcome"] == word for row in CHECKS) for word in ("pass", "fail", "skipped")}
    settings = [row[4] for row in cfg.TABLE]
    settings[cfg.TANK_LIMIT] = 71000
    run = BenchRun(
        document={
            "port": "/dev/ttyACM0",
            "board": {"name": "pico", "micropython": "1.29.0", "firmware": "f82a6627"},
            "checks": copy.deepcopy(CHECKS),
            "passed": counts["pass"],
            "failed": counts["fail"],
            "skipped": counts["skipped"],
            "ended_early": "",
            "wall_s": 125.4,
            "files": {},
        },
        groups=[
            ("link", "questions and answers"),
            ("switching", "found by slow ramps"),
            ("relays", "each by itself"),
            ("x", "none"),
        ],
        recordings=RECORDINGS,
        properties={
            "port": "/dev/ttyACM0",
            "board": "pico",
            "micropython": "1.29.0",
            "firmware": "f82a6627",
            "settings_schema": "7277ee1f",
            "settings_crc": "669c2b28",
            "settings_changed": "tank_limit",
            "host": "Twinloop 0.1.0, Python 3.12 on Linux",
        },
        settings=settings,
        begun="2026-03-14 09:41 (+0100 from UTC)",
        mains="said to be off",
        trouble="",
        virtual=False,
        wiring=[("relays", "2", "relay collector_pump", "10 kOhm from the pin to ground"), ("service", "24", "bench wire", "")],
        contacts=(("alarm", "normally open", "closes to speak"),),
        wiring_cautions=["Low voltage only on this side."],
    )
    return replace(run, **changes)


def page_of(tmp_path, run):
    bench.write_bench_report(tmp_path / "report.html", run)
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    return text, Elements(text)


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    return page_of(tmp_path_factory.mktemp("page"), sample_run())


def test_every_check_is_there_with_its_figures(sample):
    rows = {row[0]: row[1:] for row in sample[1].rows}
    assert rows["round-trip"] == ["1234567\u00a0us", "0 to 2000000\u00a0us", "passed", "median of 100"]
    assert rows["start-difference"][:3] == ["8\u00a0K", "8 to 8.1\u00a0K", "passed"]
    assert rows["stop-difference"][:3] == ["3.5\u00a0K", "2.9 to 3\u00a0K", "failed"]
    assert rows["frost-threshold"][:3] == ["\u22123.9\u00a0C", "\u22124 to \u22123.9\u00a0C", "passed"]
    assert rows["dump-start"] == ["", "", "failed", "waited 25000 s of station time for dumping"]
    assert rows["relay-lease"] == ["", "", "skipped", "needs a read-back wire (READ_BACK in the board file)"]
    shown = {name: {float(value) for value in values} for name, values in sample[1].figures.items()}
    assert shown == {row["name"]: {row["measured"]} for row in CHECKS if row["measured"] is not None}


def test_checks_stand_in_their_groups(sample):
    words = sample[1].words
    places = [words.index(text) for text in ("link: questions", "round-trip", "switching: found by", "relays: each", "relay-lease")]
    assert places == sorted(places)
    assert "x: none" not in words


def test_failed_rows_are_set_off(sample):
    marked = [tag for tag, attributes in sample[1].tags if tag == "tr" and attributes.get("class") == "marked"]
    # Two failed checks, and the setting that is not its default.
    assert len(marked) == 3
    assert sample[0].count("<strong>failed</strong>") >= 2


def test_board_run_settings_and_wiring(sample):
    rows = sample[1].rows
    for row in (["board", "pico"], ["firmware hash", "f82a6627"], ["settings schema", "7277ee1f"], ["settings CRC", "669c2b28"]):
        assert row in rows
    assert ["took", "2 min 05 s"] in rows and ["port", "/dev/ttyACM0"] in rows and ["mains", "said to be off"] in rows
    assert ["begun", "2026-03-14 09:41 (+0100 from UTC)"] in rows
    assert ["relays", "2", "relay collector_pump", "10 kOhm from the pin to ground"] in rows
    assert ["alarm", "normally open", "closes to speak"] in rows
    changed = next(row for row in rows if row[0] == "tank_limit")
    assert changed[1:4] == ["71 C", "75 C", "changed"]
    assert {row[0] for row in cfg.TABLE} <= {row[0] for row in rows}
    assert f"Settings: 1 of {cfg.SETTINGS} changed from their defaults" in sample[1].words
    # Paper shows nothing of a folded element.
    assert ("details", {"open": None}) in sample[1].tags


def test_cautions_and_lines_to_sign(sample):
    words = sample[1].words
    assert "not the last safety device" in words and "licensed trades" in words
    assert "Remove every read-back wire before you connect mains" in words
    assert "Measured by" in words and "Witnessed by" in words
    assert words.count("Date") == 2
    assert "virtual board" not in words


def test_the_verdict(tmp_path):
    """Good: something passed, nothing failed or ended early, and the board is as it was."""
    run = sample_run()
    assert 'class="verdict bad"' in page_of(tmp_path, run)[0]
    run.document["checks"] = [row for row in run.document["checks"] if row["outcome"] != "fail"]
    run.document["failed"] = 0
    assert 'class="verdict good"' in page_of(tmp_path, run)[0]
    run.trouble = "could not leave the board on its own sensors"
    text, elements = page_of(tmp_path, run)
    assert 'class="verdict bad"' in text and "At the end: could not leave the board" in elements.words
    run.trouble, run.document["ended_early"] = "", "stopped at the keyboard during hysteresis"
    text, elements = page_of(tmp_path, run)
    assert 'class="verdict bad"' in text and "Ended early: stopped at the keyboard during hysteresis." in elements.words
    run.document |= {"ended_early": "", "passed": 0}
    assert 'class="verdict bad"' in page_of(tmp_path, run)[0]


def test_texts_of_a_run_are_text(tmp_path):
    """Names and details from a board or a shell never become markup or break the file."""
    run = sample_run(trouble=HOSTILE, begun=HOSTILE, mains=HOSTILE, wiring=[(HOSTILE,) * 4])
    run.document["board"]["name"] = run.document["ended_early"] = HOSTILE
    for row in run.document["checks"]:
        row["detail"] = HOSTILE
    run.document["checks"][1]["name"] = HOSTILE
    run.recordings = {**RECORDINGS, HOSTILE: RECORDINGS["start-difference"]}
    text, elements = page_of(tmp_path, run)
    assert "img" not in {tag for tag, _ in elements.tags}
    assert "<img" not in text and "onerror=alert(1)>" not in text.replace("&gt;", "")
    assert elements.words.count("<img src=x onerror=alert(1)>") > 10


def test_nothing_is_fetched(sample):
    text, elements = sample
    for tag, attributes in elements.tags:
        assert tag not in ("link", "img", "image", "iframe", "object", "embed", "base", "form", "script")
        assert not {"src", "srcset", "action", "poster"} & set(attributes)
        for name in ("href", "xlink:href"):
            assert attributes.get(name, "#").startswith("#")
    assert set(re.findall(r"url\((.)", text)) == {"#"}
    assert "@import" not in text
    policy = next(attributes["content"] for _, attributes in elements.tags if "http-equiv" in attributes)
    assert policy.startswith("default-src 'none'")


def test_one_picture_a_ramp(sample):
    text, elements = sample
    assert sum(tag == "svg" for tag, _ in elements.tags) == 3
    ids = [attributes["id"] for _, attributes in elements.tags if "id" in attributes]
    assert len(set(ids)) == len(ids)
    used = set(re.findall(r"url\(#([^)]+)\)", text)) | {a["xlink:href"][1:] for _, a in elements.tags if "xlink:href" in a}
    assert used == set(ids)


def test_a_picture_shows_what_moved(sample):
    """A reading that moved is named, one that stood still is not; every relay has a row."""
    rows, marks = RECORDINGS["start-difference"]
    svg = ramps.picture(CHECKS[1], rows, marks)
    assert ">collector<" in svg and ">tank low<" not in svg
    for output in s.OUTPUT_NAMES:
        assert f">{output.replace('_', ' ')}<" in svg


LIMITS = {
    "a difference to the tank": ("start-difference", 8.0, "K", 8.5, 8.6, (38.5, 38.6)),
    "a reading": ("start-difference", 38.0, "C", 38.0, 38.1, (38.0, 38.1)),
    "none of them": ("start-difference", 7.0, "K", 8.0, 8.1, (None, None)),
    "another unit": ("start-difference", 8.0, "steps", 8.0, 8.1, None),
    "nothing measured": ("start-difference", None, "K", None, None, None),
    "nothing marked": ("dump-start", 95.0, "C", 95.0, 95.1, None),
}


@pytest.mark.parametrize("case", LIMITS)
def test_where_the_limits_lie(case):
    """In C on the picture's axis. If the figure does not fit the recording, no limits are drawn."""
    name, measured, unit, low, high, expected = LIMITS[case]
    place = ramps.place_of(check("switching", name, "pass", measured, unit, low, high), *RECORDINGS[name])
    if expected is None:
        assert place is None
    else:
        assert (place.sensor, place.at_s, place.at) == ("collector", 150.0, 38.0)
        assert (place.low, place.high) == (pytest.approx(expected[0]), pytest.approx(expected[1]))


def test_where_the_limits_of_a_hysteresis_lie():
    """From 38 C down, 5 to 5.2 K allowed: it may end from 32.8 to 33 C."""
    rows, marks = course("collector", 36000, -100, 30, PUMPS, IDLE)
    hysteresis = check("switching", "hysteresis", "pass", 5.0, "K", 5.0, 5.2)
    place = ramps.place_of(hysteresis, rows, [(0.0, "collector", 38000), *marks])
    assert (place.at, place.low, place.high) == (33.0, pytest.approx(32.8), pytest.approx(33.0))


def test_where_a_time_lies():
    """It ends with the recording, where a relay moved; if none moved, nothing is drawn."""
    timed = check("switching", "minimum-run", "pass", 90.0, "s", 90.0, 91.0)
    rows, marks = RECORDINGS["stop-difference"]
    place = ramps.place_of(timed, rows, marks)
    assert (place.sensor, place.at_s, place.at, place.low, place.high) == ("", 60.0, 90.0, 90.0, 91.0)
    assert ramps.place_of(timed, *RECORDINGS["dump-start"]) is None
    assert ">s from its beginning<" in ramps.picture(timed, rows, marks)


def test_a_board_of_ones_own_has_no_wiring_here(tmp_path):
    words = page_of(tmp_path, sample_run(wiring=[], contacts=(), wiring_cautions=[], recordings={}))[1].words
    assert "data file of its own" in words and "Contacts" not in words
    assert "Where it switched" not in words


def test_the_virtual_board_proves_no_wire(tmp_path):
    assert "They prove no relay, no sensor and no wire" in page_of(tmp_path, sample_run(virtual=True, recordings={}))[1].words


def test_a_base_install_writes_it_without_pictures(tmp_path):
    """Without the `sim` extra the page has every figure and says what pictures need."""
    (tmp_path / "run.pickle").write_bytes(pickle.dumps(sample_run()))
    program = (
        "import pickle, sys\n"
        "heavy = ('numpy', 'numba', 'pvlib', 'CoolProp', 'matplotlib', 'plotly', 'joblib')\n"
        "sys.modules.update(dict.fromkeys(heavy))\n"
        "from twinloop_sim.sheets.bench import write_bench_report\n"
        "write_bench_report(sys.argv[2], pickle.load(open(sys.argv[1], 'rb')))\n"
    )
    call = [sys.executable, "-c", program, str(tmp_path / "run.pickle"), str(tmp_path / "report.html")]
    subprocess.run(call, check=True, timeout=60)
    elements = Elements((tmp_path / "report.html").read_text(encoding="utf-8"))
    assert "pip install '.[sim]'" in elements.words
    assert "svg" not in {tag for tag, _ in elements.tags}
    assert set(elements.figures) == {row["name"] for row in CHECKS if row["measured"] is not None}


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path):
    with pytest.raises(FileNotFoundError):
        bench.write_bench_report(tmp_path / "no" / "report.html", sample_run(recordings={}))
