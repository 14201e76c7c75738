"""What another version of the firmware stored: kept, completed, named once."""

import struct
from array import array

import pytest
from twinloop import event_log
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import MISSING, OUT_OF_RANGE, STORED, TOTALS, UNUSABLE, Store, pack, probe_rows, sealed
from twinloop_hil.board import actions
from twinloop_hil.client import Client
from twinloop_hil.inprocess import InProcessBoard

# A code is a place in the stored copies: append to this list, never change it.
CODES = (
    "start_difference stop_difference collector_minimum tank_limit tank_limit_reset tank_full_low tank_full_reset "
    "stratification_margin dump_collector_start dump_collector_stop collector_limit collector_reset charge_limit "
    "charge_limit_reset minimum_run minimum_rest exchanger_lead exchanger_lag tank_pump_delay tank_run_on_difference "
    "tank_run_on_time exchanger_frost loop_volume collector_flow tank_flow glycol_mass_percent dump_topology dump_travel "
    "dump_crossover collector_age tank_age loop_pressure collector_height altitude loop_supply_fitted loop_return_fitted "
    "outdoor_fitted tap_fitted exchanger_fitted flow_sensor away away_limit exercise_after exercise_for "
    "tank_margin"
)
SENSORS = "collector tank_low tank_high loop_supply loop_return outdoor tap exchanger"
OUTPUTS = "collector_pump tank_pump dump_valve_power alarm"
DUTIES = "idle charging dumping stagnation_hold frost_guard night_cooling exercise fault_stop maintenance hand"
EVENTS = " start duty alarms sensor lost sensor back guard acted settings saved in service events dropped setting at its default"


def test_nobody_renumbers_what_is_stored():
    """Settings, sensors, outputs, duties, events and groups of totals keep their numbers."""
    for names, known in (
        ([row[0] for row in cfg.TABLE], CODES),
        (s.SENSOR_NAMES, SENSORS),
        (s.OUTPUT_NAMES, OUTPUTS),
        (s.DUTY_NAMES, DUTIES),
        (event_log.KIND_NAMES, EVENTS),
    ):
        assert " ".join(names).startswith(known)
    places = [s.ON_S, s.STARTS, s.DUTY_S, s.STAGNATION_S, s.HEAT_WH, s.DUMPED_WH, s.SINCE_HOT_S]
    assert [(number, first) for number, first, _ in TOTALS[: len(places)]] == list(enumerate(places, 1))


def defaults():
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    return values


def loaded(folder):
    """A store that has loaded, what load_settings returned, and the values."""
    store, values = Store(folder), array("i", [7] * cfg.SETTINGS)
    return store, store.load_settings(values), values


def use_table(monkeypatch, table):
    """Put another table in the place of the settings' own, with what follows from it."""
    monkeypatch.setattr(cfg, "TABLE", table)
    monkeypatch.setattr(cfg, "SETTINGS", len(table))
    for place, column in ((2, "LOWEST"), (3, "HIGHEST"), (4, "DEFAULTS")):
        monkeypatch.setattr(cfg, column, tuple(row[place] for row in table))


@pytest.fixture
def turn(monkeypatch):
    """Turn this firmware into a version with this many settings; new ones are called new_1 ..."""
    table = cfg.TABLE

    def turn(count):
        more = tuple((f"new_{k}", "s", 0, 100, 50, "of a later version") for k in range(1, count - len(table) + 1))
        use_table(monkeypatch, (table + more)[:count])

    yield turn
    turn(len(table))


def test_forward_back_and_forward(tmp_path, turn):
    """A later firmware's settings come through the older one, which changes its own."""
    folder, now = f"{tmp_path}/", cfg.SETTINGS
    store, _, values = loaded(folder)
    values[cfg.START_DIFFERENCE] = 9100
    assert store.save_settings(values)
    turn(now + 2)
    store, source, values = loaded(folder)
    assert source == STORED
    assert store.defaulted == [(now, MISSING), (now + 1, MISSING)]
    assert (values[cfg.START_DIFFERENCE], values[now]) == (9100, 50)
    values[now], values[now + 1] = 61, 62
    assert store.save_settings(values)
    turn(now)
    for start in (9200, 9300):
        store, source, values = loaded(folder)
        assert (source, store.defaulted) == (STORED, [])
        values[cfg.START_DIFFERENCE] = start
        assert store.save_settings(values)
    turn(now + 2)
    store, source, values = loaded(folder)
    assert (source, store.defaulted) == (STORED, [])
    assert (values[cfg.START_DIFFERENCE], values[now], values[now + 1]) == (9300, 61, 62)


def test_copies_of_boards_in_the_field_are_read(tmp_path):
    """Schema word, sequence, values, CRC; sequence, rows, CRC. The schema word decides nothing."""
    values = defaults()
    values[cfg.TANK_LIMIT] = 71000
    (tmp_path / "settings.b").write_bytes(sealed(b"\x12\x34\x56\x78" + pack(values, 7)[4:-4]))
    rows = probe_rows()
    rows.assign(s.TAP, b"\x28abcdefg")
    rows.set_offset(s.TAP, -300)
    (tmp_path / "probes.a").write_bytes(sealed(struct.pack("<I", 12) + bytes(rows.body)))
    store, source, found = loaded(f"{tmp_path}/")
    assert (source, found, store.sequence) == (STORED, values, 7)
    assert bytes(store.load_probes().body) == bytes(rows.body)


def test_a_value_out_of_a_narrowed_range_takes_its_default(tmp_path, monkeypatch):
    """The others stay. The alarm speaks, and the version that knows the value finds it again."""
    store, _, values = loaded(f"{tmp_path}/")
    values[cfg.COLLECTOR_MINIMUM], values[cfg.START_DIFFERENCE] = 55000, 9000
    store.save_settings(values)
    table = [list(row) for row in cfg.TABLE]
    table[cfg.COLLECTOR_MINIMUM][3] = 50000
    use_table(monkeypatch, table)
    store, source, found = loaded(f"{tmp_path}/")
    assert (source, store.defaulted) == (UNUSABLE, [(cfg.COLLECTOR_MINIMUM, OUT_OF_RANGE)])
    assert (found[cfg.COLLECTOR_MINIMUM], found[cfg.START_DIFFERENCE]) == (20000, 9000)
    board = InProcessBoard(f"{tmp_path}/")
    board.pass_time(5000)
    assert board.loop.state[s.ALARMS] >> 11 & 1
    monkeypatch.undo()
    assert list(loaded(f"{tmp_path}/")[2]) == list(values)
    use_table(monkeypatch, table)
    Client(board).change_settings({cfg.START_DIFFERENCE: 10000})
    assert loaded(f"{tmp_path}/")[1] == STORED


def test_a_set_that_breaks_a_rule_is_left_on_flash(tmp_path):
    """Defaults and the alarm; the copy stays until somebody commits, and what is unknown in it."""
    values = defaults()
    values[cfg.STOP_DIFFERENCE] = 7000
    body = sealed(pack(values, 3)[:-4] + b"\x2a\x00\x00\x00")
    (tmp_path / "settings.b").write_bytes(body)
    board = InProcessBoard(f"{tmp_path}/")
    assert list(board.loop.settings) == list(defaults())
    board.pass_time(5000)
    assert board.loop.settings_source == UNUSABLE
    assert board.loop.state[s.ALARMS] >> 11 & 1
    assert (tmp_path / "settings.b").read_bytes() == body
    assert not (tmp_path / "settings.a").exists()
    Client(board).change_settings({cfg.START_DIFFERENCE: 9000})
    board.pass_time(5000)
    assert not board.loop.state[s.ALARMS] >> 11 & 1
    store, source, found = loaded(f"{tmp_path}/")
    assert (source, found[cfg.START_DIFFERENCE], store.spare) == (STORED, 9000, b"\x2a\x00\x00\x00")


def named(board):
    """The settings that the board's log names."""
    return [event[1:3] for event in actions.read_log(Client(board)) if event[0] == event_log.SETTING_DEFAULTED]


def test_what_is_missing_is_named_once(tmp_path, turn):
    """At each start of a firmware on trial, and not again after its first step saved the set."""
    folder, now = f"{tmp_path}/", cfg.SETTINGS
    turn(now - 2)
    store, _, values = loaded(folder)
    values[cfg.START_DIFFERENCE] = 9000
    store.save_settings(values)
    turn(now)
    wanted = [[now - 2, MISSING], [now - 1, MISSING]]
    for _ in range(2):
        assert named(InProcessBoard(folder)) == wanted
    board = InProcessBoard(folder)
    board.pass_time(2000)
    assert board.loop.store.sequence == 2
    assert named(board) == wanted
    again = InProcessBoard(folder)
    again.pass_time(2000)
    assert again.loop.store.sequence == 2
    assert again.loop.settings[cfg.START_DIFFERENCE] == 9000
    assert again.loop.log.count and named(again) == []
    assert actions.event_text(event_log.SETTING_DEFAULTED, cfg.EXERCISE_FOR, MISSING) == (
        "setting at its default: exercise_for: none was stored"
    )
    assert "away: its stored value is out of range" in actions.event_text(event_log.SETTING_DEFAULTED, cfg.AWAY, OUT_OF_RANGE)


def test_roles_and_offsets_come_through_the_version_before(tmp_path, monkeypatch):
    """Nine sensors, eight, nine: the ninth keeps chip and offset; a chip still has one role."""
    folder, now = f"{tmp_path}/", s.SENSORS
    store = Store(folder)
    rows = store.load_probes()
    rows.assign(s.TAP, b"\x28abcdefg")
    rows.set_offset(s.TAP, 250)
    store.save_probes(rows)
    monkeypatch.setattr(s, "SENSORS", now + 2)
    store = Store(folder)
    rows = store.load_probes()
    assert (rows.rom(s.TAP), rows.rom(now)) == (b"\x28abcdefg", bytes(8))
    for sensor, rom in ((now, b"\x28ninth.."), (now + 1, b"\x28tenth..")):
        rows.assign(sensor, rom)
        rows.set_offset(sensor, -40 - sensor)
    store.save_probes(rows)
    monkeypatch.setattr(s, "SENSORS", now)
    board = InProcessBoard(folder)
    client = Client(board)
    client.call("calibrate", s.TAP, 400)
    client.call("identify", s.OUTDOOR, b"\x28ninth..".hex())
    assert board.port.fitted[s.TAP] == (b"\x28abcdefg", 400)
    monkeypatch.setattr(s, "SENSORS", now + 2)
    rows = Store(folder).load_probes()
    assert (rows.rom(now), rows.offsets_mk(now)) == (bytes(8), (0, 0))
    assert (rows.rom(now + 1), rows.offsets_mk(now + 1)) == (b"\x28tenth..", (-41 - now, 0))
    assert rows.offsets_mk(s.TAP) == (400, 250)
