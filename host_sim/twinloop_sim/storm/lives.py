"""A station's life through the weather of an episode, and other lives beside it to compare with."""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple

import numpy as np
from twinloop.control import state as s
from twinloop.control import station

from .. import trace
from ..engine.block import Rig
from ..engine.run import CHIP_STEPS_PER_K
from ..thermal import state as th
from ..thermal.storage import initial_plant
from . import block as b
from .budget import nameable
from .reference import FIRMWARE, READINGS, TRUTH


class Life(NamedTuple):
    """A plant, a firmware with its settings, and what happens to both."""

    plant: np.ndarray
    state: np.ndarray
    settings: np.ndarray
    faults: b.Faults


def rig_of(plant: np.ndarray, values: np.ndarray, state: np.ndarray, settings: np.ndarray) -> Rig:
    """A plant whose chips have no offset, and its firmware."""
    return Rig(
        plant,
        values,
        flux=np.zeros(th.FLUX_COUNT),
        chips=np.array([[0.0] * s.SENSORS, CHIP_STEPS_PER_K]),
        felt_c=np.zeros(s.SENSORS),
        command=np.zeros(s.OUTPUTS, dtype=np.int64),
        state=state,
        settings=settings,
        inputs=np.zeros(s.INPUTS, dtype=np.int32),
    )


def live(run_block, episode, where: slice, life: Life, rows: np.ndarray) -> None:
    """Live through some steps of an episode's weather, into these rows."""
    rig = rig_of(life.plant, episode.values, life.state, life.settings)
    run_block(rig, life.faults, where.start, episode.drive[where], episode.case.step_s * 1000, rows)


def wake(state: np.ndarray, settings: np.ndarray) -> None:
    """Wake a firmware, as after power-on."""
    station.wake(state, settings, np.zeros(s.INPUTS, dtype=np.int32))


def no_faults(faults: b.Faults) -> b.Faults:
    """A life without any fault."""
    empty = b.Faults(*(array[:0] for array in faults[:4]), tallies=np.zeros_like(faults.tallies))
    return empty._replace(rule=FIRMWARE)


def same_faults(faults: b.Faults, rule: int) -> b.Faults:
    """The same faults from their beginning, for another life under this rule."""
    sags = faults.schedule[:, b.KIND] == b.SAGS
    return b.Faults(
        faults.schedule,
        np.where(sags[:, None], 0.0, faults.series),
        memory=np.full_like(faults.memory, np.nan),
        felt=np.zeros_like(faults.felt),
        tallies=np.zeros_like(faults.tallies),
        rule=rule,
    )


class Beside:
    """Other lives on the same plant, under the same weather and draws.

    Each is lived when a checker first asks for it, and takes as long as the episode.
    """

    def __init__(self, episode, run_block):
        self.episode, self.run_block = episode, run_block

    def again(self, faults: b.Faults) -> np.ndarray:
        """The rows of the whole episode, lived again from its beginning."""
        episode = self.episode
        plant = initial_plant(episode.values, episode.drive[0, th.DRIVE_AMBIENT_C], *episode.case.tank)
        state, rows = np.zeros(s.STATE, dtype=np.int32), np.zeros((len(episode.rows), trace.WIDTH))
        rows[:, 0] = episode.rows[:, 0]
        for number, (where, settings, cold) in enumerate(episode.parts):
            if cold or number == 0:
                wake(state, settings)
            live(self.run_block, episode, where, Life(plant, state, settings.copy(), faults), rows[where])
        return rows

    @cached_property
    def reference(self) -> np.ndarray:
        """Rows of the reference rule under the same faults of the plant."""
        return self.again(same_faults(self.episode.faults, TRUTH))

    @cached_property
    def readings(self) -> np.ndarray:
        """Rows of the reference rule on what the sensors show, under all the same faults."""
        return self.again(same_faults(self.episode.faults, READINGS))

    @cached_property
    def sound(self) -> np.ndarray:
        """Rows of the same station to which nothing happens."""
        return self.again(no_faults(self.episode.faults))

    @cached_property
    def blameless(self) -> np.ndarray:
        """Rows of the same station to which only people, and the supply, do what they do."""
        theirs = [number for number, fault in enumerate(self.episode.case.faults) if not nameable(fault)]
        if not theirs:
            return self.sound
        faults = same_faults(self.episode.faults, FIRMWARE)
        return self.again(b.Faults(*(array[theirs] for array in faults[:4]), tallies=faults.tallies))


class Part(NamedTuple):
    """Some steps of the lives beside an episode."""

    beside: Beside
    where: slice

    def reference(self) -> np.ndarray:
        """See Beside."""
        return self.beside.reference[self.where]

    def blameless(self) -> np.ndarray:
        """See Beside."""
        return self.beside.blameless[self.where]

    def behind(self, column: int) -> np.ndarray:
        """By how much less than blameless() the station counts, to the end of the episode."""
        return (self.beside.blameless - self.beside.episode.rows)[self.where.start :, column]

    def sound_life(self) -> np.ndarray:
        """Beside.sound over the whole episode."""
        return self.beside.sound
