"""The tables of docs/sensors.md show what the control core does."""

from pathlib import Path

from twinloop_sim.pages import lost_sensors, renewed
from twinloop_sim.pages.lost_sensors import Outcome

ROOT = Path(__file__).parent.parent.parent.parent
STOP = Outcome("fault_stop", ("alarm",), "no collector")
REST = Outcome("idle", ("alarm",), "no tank")
CHARGE = Outcome("charging", ("collector_pump", "alarm"), "sun")


def test_the_page_is_up_to_date():
    page = (ROOT / "docs" / "sensors.md").read_text()
    assert page == renewed(page, lost_sensors.tables())


def test_a_pair_is_left_out_only_when_it_does_what_its_stricter_sensor_does():
    """Fewer outputs on is stricter; with equally many, all three must agree."""
    assert lost_sensors.follows(STOP, STOP, CHARGE)
    assert lost_sensors.follows(STOP, CHARGE, STOP)
    assert not lost_sensors.follows(CHARGE, STOP, CHARGE)
    assert not lost_sensors.follows(REST, STOP, CHARGE)
    assert not lost_sensors.follows(REST, REST, STOP)
    assert lost_sensors.follows(CHARGE, CHARGE, CHARGE)
