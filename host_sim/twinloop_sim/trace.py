"""The trace of a run: its columns, and the CSV file that holds them. One row per control step."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from twinloop.control import state as s

# True temperatures that no sensor measures.
TRUTHS = ("tank_node", "tank_inlet", "exchanger_water", "exchanger_plate", "loop_coldest")
# Heat from the start of the run to the row's time, in kWh, and the heat stored, counted from 0 C.
# Any two rows give the balance between them, even if the rows in between were left out.
HEATS = ("collected", "to_tank", "dumped", "used", "tank_losses", "pipe_losses", "pump_heat", "gas", "in_tank", "in_loop")
COLUMNS = (
    "t_s",
    *s.SENSOR_NAMES,
    *(f"true_{name}" for name in s.SENSOR_NAMES),
    *(f"true_{name}" for name in TRUTHS),
    "irradiance_w_per_m2",
    "draw_l_per_min",
    "true_collector_flow_l_per_min",
    "true_tank_flow_l_per_min",
    *s.OUTPUT_NAMES,
    "duty",
    "reason",
    "wait_reason",
    "air_reason",
    *(f"heat_{name}_kwh" for name in HEATS),
)
# First column of each group.
BELIEVED = 1
TRUE_SENSORS = BELIEVED + s.SENSORS
TRUE_OTHERS = TRUE_SENSORS + s.SENSORS
IRRADIANCE = TRUE_OTHERS + len(TRUTHS)
DRAW = IRRADIANCE + 1
COLLECTOR_FLOW = DRAW + 1
TANK_FLOW = COLLECTOR_FLOW + 1
COMMANDS = TANK_FLOW + 1
DUTY = COMMANDS + s.OUTPUTS
REASON = DUTY + 1
WAIT_REASON = REASON + 1
AIR_REASON = WAIT_REASON + 1
HEAT = AIR_REASON + 1
WIDTH = HEAT + len(HEATS)

# Rows converted to text at a time.
BLOCK_ROWS = 20000

_WHOLE = {"t_s", *s.OUTPUT_NAMES, "duty", "reason", "wait_reason", "air_reason"}


class Writer:
    """Writes a trace file row by row, under a temporary name until it is complete.

    Temperatures are in C with three decimals, heat in kWh with six; unknown values are empty.
    Raises: OSError.
    """

    def __init__(self, path: Path):
        self.path, self.unfinished = Path(path), Path(f"{path}.unfinished")
        formats = ["%d" if name in _WHOLE else "%.6f" if name.startswith("heat_") else "%.3f" for name in COLUMNS]
        self.line = ",".join(formats)

    def __enter__(self) -> Writer:
        self.file = open(self.unfinished, "w", newline="")
        self.file.write(",".join(COLUMNS) + "\n")
        return self

    def __exit__(self, kind, fault, traceback) -> None:
        self.file.close()
        if kind is None:
            self.unfinished.replace(self.path)
        else:
            self.unfinished.unlink()

    def write_rows(self, rows: np.ndarray) -> None:
        """Append rows of shape (count, WIDTH)."""
        for start in range(0, len(rows), BLOCK_ROWS):
            block = "\n".join(self.line % tuple(row) for row in rows[start : start + BLOCK_ROWS].tolist())
            self.file.write(block.replace("nan", "") + "\n")
