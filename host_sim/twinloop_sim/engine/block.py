"""The inner loop of a run: plant and firmware in lock step, for both ways of running.

compiled.py copies this file and replaces `step` by the compiled control step.
"""

import math
from typing import NamedTuple

import numpy as np
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.control.station import step

from .. import trace as t
from ..thermal import parameters as p
from ..thermal import state as th
from ..thermal.jit import kernel
from ..thermal.plant import advance
from ..thermal.rows import extremes_c
from ..thermal.sensors import MINUTE_S, loop_extremes_c, places_c, plate_coldest_c, read_sensors, tank_inlet_c
from ..thermal.storage import stored_heat
from .bare import bare

# A flow switch closes from this share of the pumped flow (common practice for paddle switches).
SWITCH_SHARE = 0.2
KWH_J = 3.6e6
# The fluxes of the first entries of trace.HEATS, in order.
HEAT_FLUXES = (
    th.FLUX_COLLECTED,
    th.FLUX_TO_TANK,
    th.FLUX_DUMPED,
    th.FLUX_USED,
    th.FLUX_TANK_LOSSES,
    th.FLUX_PIPE_LOSSES,
    th.FLUX_PUMP_HEAT,
    th.FLUX_GAS,
)


class Rig(NamedTuple):
    """A plant with its chips and its firmware: the arrays that a block works on, in place.

    `command` (int64 of OUTPUTS) is scratch; `state`, `settings` and `inputs` are int32, as the
    control core.
    """

    plant: np.ndarray
    values: np.ndarray
    flux: np.ndarray
    chips: np.ndarray
    felt_c: np.ndarray
    command: np.ndarray
    state: np.ndarray
    settings: np.ndarray
    inputs: np.ndarray


@kernel
def sense_flow(plant, values, settings, inputs):
    """The roof loop's flow input, silent without a sensor: a switch's 0 or 1, a meter's ml/min."""
    flow_l_per_min = abs(plant[th.ROOF_FLOW_L_PER_S]) * MINUTE_S
    inputs[s.IN_FLOW_ML_PER_MIN] = 0
    inputs[s.IN_FLOW_CAUSE] = s.CAUSE_SILENT if settings[cfg.FLOW_SENSOR] == cfg.NO_FLOW_SENSOR else s.CAUSE_NONE
    if settings[cfg.FLOW_SENSOR] == cfg.FLOW_METER:
        inputs[s.IN_FLOW_ML_PER_MIN] = int(flow_l_per_min * 1000.0)
    elif settings[cfg.FLOW_SENSOR] == cfg.FLOW_SWITCH:
        inputs[s.IN_FLOW_ML_PER_MIN] = 1 if flow_l_per_min >= SWITCH_SHARE * values[p.COLLECTOR_FLOW_L_PER_MIN] else 0


@kernel
def sense(plant, values, chips, felt_c, settings, inputs):
    """Put what the chips read into the firmware's inputs.

    `chips` is float64 (2, SENSORS): offset in K, steps per kelvin; `felt_c` (SENSORS) is scratch. A
    chip rounds to its own step, then down to the firmware's millidegrees.
    """
    sense_flow(plant, values, settings, inputs)
    read_sensors(plant, values, felt_c)
    for sensor in range(s.SENSORS):
        count = math.floor((felt_c[sensor] + chips[0, sensor]) * chips[1, sensor] + 0.5)
        inputs[s.IN_RAW_MC + sensor] = math.floor(count * 1000.0 / chips[1, sensor])
        inputs[s.IN_RAW_CAUSE + sensor] = s.CAUSE_NONE


@kernel
def note_row(plant, values, drive, state, flux, row):
    """Write one trace row but t_s: beliefs and commands of this step, and the truth behind them."""
    for sensor in range(s.SENSORS):
        known = state[s.STATUS + sensor] <= s.HELD
        row[t.BELIEVED + sensor] = state[s.VALUE_MC + sensor] / 1000.0 if known else math.nan
    true_c = places_c(plant, values, drive[th.DRIVE_AMBIENT_C])
    for sensor in range(s.SENSORS):
        row[t.TRUE_SENSORS + sensor] = true_c[sensor]
    row[t.TRUE_OTHERS] = extremes_c(plant, th.TANK_FIRST, int(values[p.TANK_NODES]))[1]
    row[t.TRUE_OTHERS + 1] = tank_inlet_c(plant)
    row[t.TRUE_OTHERS + 2] = extremes_c(plant, th.EXCHANGER_WATER_FIRST, th.EXCHANGER_CELLS)[0]
    row[t.TRUE_OTHERS + 3] = plate_coldest_c(plant, values)
    row[t.TRUE_OTHERS + 4] = loop_extremes_c(plant, values)[0]
    row[t.IRRADIANCE] = drive[th.DRIVE_TILTED_W_PER_M2]
    row[t.DRAW] = drive[th.DRIVE_DRAW_L_PER_MIN]
    row[t.COLLECTOR_FLOW] = plant[th.ROOF_FLOW_L_PER_S] * MINUTE_S
    row[t.TANK_FLOW] = plant[th.TANK_FLOW_L_PER_S] * MINUTE_S
    for output in range(s.OUTPUTS):
        row[t.COMMANDS + output] = state[s.COMMAND + output]
    row[t.DUTY] = state[s.DUTY]
    row[t.REASON] = state[s.REASON]
    row[t.WAIT_REASON] = state[s.WAIT_REASON]
    row[t.AIR_REASON] = state[s.AIR_REASON]
    for k in range(len(HEAT_FLUXES)):
        row[t.HEAT + k] = flux[HEAT_FLUXES[k]] / KWH_J
    tank_j, loop_j = stored_heat(plant, values)
    row[t.HEAT + len(HEAT_FLUXES)] = tank_j / KWH_J
    row[t.HEAT + len(HEAT_FLUXES) + 1] = loop_j / KWH_J


def run_block(rig, drive, dt_ms, rows):
    """Run a control step for each row of `rows`: sense, step, note, advance. Everything in place.

    Args: `rig` (Rig), `drive` (float64 (steps, DRIVE_COUNT)), `dt_ms` (int), `rows` (float64
    (steps, WIDTH)).
    """
    # Once, before the loop: each access to a member of the tuple counts a reference.
    plant, values, flux = bare(rig.plant, "plant"), bare(rig.values, "values"), bare(rig.flux, "flux")
    state, settings, inputs = bare(rig.state, "state"), bare(rig.settings, "settings"), bare(rig.inputs, "inputs")
    felt_c, command, chips = bare(rig.felt_c, "felt"), bare(rig.command, "command"), rig.chips
    for k in range(rows.shape[0]):
        now, row = bare(drive[k], "drive"), bare(rows[k], "trace")
        sense(plant, values, chips, felt_c, settings, inputs)
        inputs[s.IN_DT_MS] = dt_ms
        step(state, settings, inputs)
        for output in range(s.OUTPUTS):
            command[output] = state[s.COMMAND + output]
        note_row(plant, values, now, state, flux, row)
        advance(plant, values, now, command, flux, dt_ms / 1000.0)
