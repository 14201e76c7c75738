"""The corners: enough of them, all accepted, every setting at both ends."""

import numpy as np
import pytest
from twinloop.control import settings as cfg
from twinloop_sim.explore import corners
from twinloop_sim.explore.letters import ROOMS, Levels, heater

DEFAULT = corners.corners(corners.COUNT, 1)


def test_at_least_fifty_and_all_different():
    """source: the requirement on `twinloop explore`: at least 50 corners of accepted settings."""
    assert len({corner.settings.tobytes() for corner in DEFAULT}) >= 50
    assert len(DEFAULT) == corners.COUNT


@pytest.mark.parametrize("seed", [1, 2, 77])
def test_every_corner_is_accepted(seed):
    for corner in corners.corners(corners.COUNT + 10, seed):
        assert cfg.broken_rule(corner.settings) == cfg.RULE_OK, corner.name


def test_every_setting_is_at_both_ends():
    """As far out as the validator lets it go: the whole range for most settings."""
    short = set()
    for code, (name, _, low, high, *_) in enumerate(cfg.TABLE):
        values = {int(corner.settings[code]) for corner in DEFAULT}
        if not {low, high} <= values:
            short.add(name)
    assert short <= {"collector_height", "charge_limit_reset", "tank_limit_reset", "loop_volume", "tank_pump_delay"}


def test_every_build_is_there():

    def has(**wanted):
        codes = {corners.NAMES.index(name): value for name, value in wanted.items()}
        return any(all(corner.settings[code] == value for code, value in codes.items()) for corner in DEFAULT)

    for topology in (cfg.BYPASS, cfg.SERIES):
        assert has(dump_topology=topology, dump_crossover=cfg.OPEN)
        assert has(dump_topology=topology, dump_crossover=cfg.CLOSED)
    for topology in (cfg.BYPASS, cfg.SERIES, cfg.NONE):
        for away in (0, 1):
            assert has(dump_topology=topology, away=away)
    for kind in (cfg.NO_FLOW_SENSOR, cfg.FLOW_SWITCH, cfg.FLOW_METER):
        assert has(flow_sensor=kind)
    for name in ("loop_supply", "loop_return", "outdoor", "tap", "exchanger"):
        assert has(**{f"{name}_fitted": 0})


def test_a_refused_set_is_mended_by_the_least_move():
    settings = corners.plain(stop_difference=15000)
    assert cfg.broken_rule(settings) == cfg.RULE_STOP_UNDER_START
    mended = corners.mended(settings, (cfg.STOP_DIFFERENCE,))
    assert np.array_equal(mended, corners.plain(stop_difference=15000, start_difference=17000))


def test_what_cannot_be_mended_is_refused():
    settings = corners.plain(stop_difference=15000, start_difference=4000)
    assert corners.mended(settings, (cfg.STOP_DIFFERENCE, cfg.START_DIFFERENCE)) is None


def test_same_seed_same_corners():
    for one, other in zip(DEFAULT, corners.corners(corners.COUNT, 1), strict=True):
        assert np.array_equal(one.settings, other.settings)
    assert not all(
        np.array_equal(one.settings, other.settings) for one, other in zip(DEFAULT, corners.corners(corners.COUNT, 2), strict=True)
    )


@pytest.mark.parametrize("corner", DEFAULT, ids=lambda corner: corner.name)
def test_alphabets_reach_every_threshold(corner):
    """Collectors below, at and above each threshold, and letters of allowed step lengths."""
    levels = Levels(corner.settings)
    sun = ROOMS[1](corner.settings, True)
    collectors = {int(values[2]) for values, masks in zip(sun.values, sun.masks, strict=True) if masks[2]}
    for threshold in (levels.of["collector_limit"], levels.of["collector_reset"], levels.of["dump_collector_start"]):
        assert {threshold - 1, threshold, threshold + 1} <= collectors
    for room in ROOMS:
        for wide in (False, True):
            alphabet = room(corner.settings, wide)
            # Without an air heater its room is a single letter.
            least = 1 if room is heater and corner.settings[cfg.AIR_HEATER] == 0 else 11
            assert len(alphabet.steps) == len(alphabet.values) >= least
            assert all(1 <= values[0] <= 60000 for values in alphabet.values)
