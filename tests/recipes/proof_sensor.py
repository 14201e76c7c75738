"""Recipe "A sensor": the ninth of the water side is fitted, injected, lost, calibrated, drawn."""

from pathlib import Path

import numpy as np
import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard
from twinloop_sim import document, files, scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.pages import names
from twinloop_sim.storm import draw, draw_faults, faults

BUFFER_MC = 41000


@pytest.fixture
def board(tmp_path):
    """The firmware in this process."""
    return InProcessBoard(f"{tmp_path}/")


@pytest.fixture
def client(board):
    """Its host, with the sensor fitted."""
    client = Client(board)
    client.change_settings({cfg.BUFFER_FITTED: 1})
    return client


def readings():
    """Calm readings, the new one after those of the water side."""
    return [20000, 40000, 42000, 20000, 20000, 15000, 40000, 20000, BUFFER_MC, 15000, 15000]


def test_it_is_the_ninth_of_the_water_side():
    assert (s.SENSORS, s.WATER_SENSORS, s.SENSOR_NAMES[s.BUFFER]) == (11, 9, "buffer")


def test_absent_until_it_is_fitted(board):
    client = Client(board)
    client.inject(readings(), lease_ms=10000)
    for _ in range(5):
        client.advance(1000, readings())
    assert client.status()["status"][s.BUFFER] == s.ABSENT


def test_injected_and_lost(client):
    """Its value is believed; with its wire broken it is held, then lost, and the alarm tells."""
    client.inject(readings(), lease_ms=10000)
    for _ in range(5):
        client.advance(1000, readings())
    facts = client.status()
    assert (facts["mc"][s.BUFFER], facts["status"][s.BUFFER]) == (BUFFER_MC, s.GOOD)
    causes = [0] * s.SENSORS
    causes[s.BUFFER] = s.CAUSE_OPEN
    client.advance(1000, readings(), causes)
    assert client.status()["status"][s.BUFFER] == s.HELD
    for _ in range(70):
        client.advance(1000, readings(), causes)
    assert client.status()["status"][s.BUFFER] == s.LOST
    for _ in range(125):
        client.advance(1000, readings(), causes)
    assert client.status()["commands"][s.ALARM] == 1


def test_out_of_range_is_no_reading(client):
    """The range in its row is the one that is judged by."""
    hot = readings()
    hot[s.BUFFER] = 115001
    client.inject(hot, lease_ms=10000)
    client.advance(1000, hot)
    assert client.status()["cause"][s.BUFFER] == s.CAUSE_RANGE


def test_calibrated(board, client):
    """Its offset is stored, told and used by the port."""
    client.call("calibrate", s.BUFFER, 500)
    rows = client.probes()
    assert len(rows) == s.SENSORS
    assert rows[s.BUFFER][1:] == [500, 0]
    assert board.port.fitted[s.BUFFER][1] == 500


def test_felt_and_drawn(tmp_path):
    """The model's pocket follows its place, and the report has a line of its own for it."""
    scenario = scenarios.load("frosty-morning", ["buffer_fitted=yes"])
    scenario.days = 1
    scenario.absent_days = ()
    outcome = engine.run(scenario)
    believed, true = outcome.rows[:, trace.BELIEVED + s.BUFFER], outcome.rows[:, trace.TRUE_SENSORS + s.BUFFER]
    late = np.isfinite(believed)
    assert late.mean() > 0.99
    # The pocket lags behind a cold draw.
    assert np.abs(believed - true)[late].mean() < 0.5
    assert true.max() - true.min() > 5.0
    assert "buffer" in trace.COLUMNS
    written = files.write_report(tmp_path, outcome, document.document(outcome))
    assert '"buffer"' in Path(written["report"]).read_text()


def test_hit_by_a_storm():
    """A storm may draw its faults where it is fitted, and only there."""
    row = next(row for row in faults.ROWS if row.targets == faults.EVERY_SENSOR)
    case = draw.draw_episode(1, 0, 0, 6)
    case.settings[cfg.TABLE[cfg.BUFFER_FITTED][0]] = 1
    assert "buffer" in draw_faults.targets(row, case)
    case.settings[cfg.TABLE[cfg.BUFFER_FITTED][0]] = 0
    assert "buffer" not in draw_faults.targets(row, case)


def test_its_setting_is_in_the_docs():
    assert "`buffer_fitted`" in names.tables()
