"""The lower bound of the engine's run time: plant, weather and trace, without the firmware.

The commands come from an earlier run.
"""

from twinloop.control import state as s

from .. import trace as t
from ..thermal.plant import advance
from .bare import bare
from .block import note_row


def run_replay_block(plant, values, drive, flux, command, state, told, dt_ms, rows):
    """Run as many steps as `rows` has rows: take the commands of `told`, note, advance.

    All arrays change in place. Args: `told` (float64 (steps, WIDTH), rows of the replayed run),
    `state` (int32, only to fill the same columns); the others as in block.run_block.
    """
    plant, values, flux = bare(plant, "plant"), bare(values, "values"), bare(flux, "flux")
    state, command = bare(state, "state"), bare(command, "command")
    for k in range(rows.shape[0]):
        now, row = bare(drive[k], "drive"), bare(rows[k], "trace")
        for output in range(s.OUTPUTS):
            command[output] = int(told[k, t.COMMANDS + output])
        note_row(plant, values, now, state, flux, row)
        advance(plant, values, now, command, flux, dt_ms / 1000.0)
