"""The firmware in fifty random plants: the balance closes, no part gets hotter than its source."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from twinloop_sim import document, scenarios, trace
from twinloop_sim.engine import run as engine
from twinloop_sim.thermal import presets

TEXT = """
start = "{month:02d}-{day:02d}"
days = 1
step_s = {step_s}
cloud_seed = {seed}
collector = "{collector}"
weather = "{weather}"

[demand]
profile = "{profile}"
daily_kwh = {kwh}

[demand.variation]
seed = {seed}

[tank]
low_c = {low}
high_c = {high}

[settings]
dump_topology = "{topology}"

[plant]
collector_area_m2 = {area}
tank_volume_l = {volume}
tank_nodes = {nodes}
exchanger_ua_w_per_k = {ua}
collector_flow_l_per_min = {roof}
tank_flow_l_per_min = {water}
roof_check_valve_leak = {leak}
tank_check_valve_leak = {leak}
dump_seat_leak = {seat}
"""
plants = st.fixed_dictionaries(
    {
        "month": st.integers(1, 12),
        "day": st.integers(1, 28),
        "step_s": st.sampled_from([5, 10]),
        "seed": st.integers(0, 1000),
        "collector": st.sampled_from(sorted(presets.COLLECTORS)),
        "weather": st.sampled_from(["greensboro", "sand-point", "miami"]),
        "profile": st.sampled_from(["M", "L"]),
        "kwh": st.sampled_from([0.0, 4.0, 9.0, 14.0]),
        "low": st.sampled_from([10.0, 30.0, 60.0]),
        "high": st.sampled_from([60.0, 70.0]),
        "topology": st.sampled_from(["bypass", "series", "none"]),
        "area": st.sampled_from([0.0, 2.0, 6.0, 15.0]),
        "volume": st.sampled_from([120.0, 400.0, 1000.0]),
        "nodes": st.sampled_from([2, 8, 16, 40]),
        "ua": st.sampled_from([100.0, 800.0, 3000.0]),
        "roof": st.sampled_from([1.0, 4.5, 9.0]),
        "water": st.sampled_from([1.0, 4.0, 9.0]),
        "leak": st.sampled_from([0.0, 0.02, 1.0]),
        "seat": st.sampled_from([0.0, 0.05]),
    }
)


@settings(max_examples=50)
@given(plants)
def test_balance_closes_in_fifty_random_plants(tmp_path_factory, plant):
    path = tmp_path_factory.getbasetemp() / "plant.toml"
    path.write_text(TEXT.format(**plant))
    outcome = engine.run(scenarios.load(str(path)))
    facts = document.document(outcome)
    assert facts["closure_percent"] < 0.1
    assert np.isfinite(outcome.rows[:, trace.HEAT :]).all()
    tank_c, inlet_c = (outcome.rows[:, trace.COLUMNS.index(f"true_tank_{name}")] for name in ("node", "inlet"))
    # Only inflow heats the hottest layer; the kelvin covers pump heat and a layer's thickness.
    assert tank_c.max() <= max(plant["high"], np.nanmax(np.append(inlet_c, -99.0))) + 1.0
    if plant["area"] == 0.0:
        # A start is allowed: glycol outdoors is as warm as the air, and a tank at 10 C can use it.
        assert facts["heat_kwh"]["collected"] == 0.0
