"""The floor of the engine's run time: the firmware replaced by the commands of a past run."""

from twinloop.control import state as s

from .. import trace as t
from ..thermal.plant import advance
from .bare import bare
from .block import note_row


def run_replay_block(rig, told, drive, dt_ms, rows):
    """Replay a run's commands, one for each row of `rows`: command, note, advance, in place.

    `told` are the rows of that run; the rig's `state` only fills its columns.
    """
    plant, values, flux = bare(rig.plant, "plant"), bare(rig.values, "values"), bare(rig.flux, "flux")
    state, command = bare(rig.state, "state"), bare(rig.command, "command")
    for k in range(rows.shape[0]):
        now, row = bare(drive[k], "drive"), bare(rows[k], "trace")
        for output in range(s.OUTPUTS):
            command[output] = int(told[k, t.COMMANDS + output])
        note_row(plant, values, now, state, flux, row)
        advance(plant, values, now, command, flux, dt_ms / 1000.0)
