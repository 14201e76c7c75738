"""What several test files of the simulation need."""

import shutil
from contextlib import contextmanager
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import twinloop
from twinloop_sim.engine.compiled import plant_step
from twinloop_sim.storm import run as storm_run
from twinloop_sim.thermal import state as s


@contextmanager
def refused(words):
    """Expect a ValueError of one line that has these words."""
    with pytest.raises(ValueError, match=".") as caught:
        yield caught
    text = str(caught.value)
    assert words in text, text
    assert "\n" not in text, text


def weather_row(irradiance=0.0, ambient_c=10.0, sky_k=0.0, cold_c=12.0, draw=0.0, room_c=18.0):
    return np.array([irradiance, irradiance, ambient_c, sky_k, 0.0, room_c, cold_c, draw])


def run(plant, values, drive, command, seconds, flux=None, step_s=5.0):
    """Hold weather and relays for a while; return the lowest and highest of each plant entry."""
    flux = np.zeros(s.FLUX_COUNT) if flux is None else flux
    command, advance = np.array(command, dtype=np.int64), plant_step()
    low, high = np.full(len(plant), np.inf), np.full(len(plant), -np.inf)
    for _ in range(int(seconds / step_s)):
        advance(plant, values, drive, command, flux, step_s)
        np.fmin(low, plant, out=low)
        np.fmax(high, plant, out=high)
    return low, high


def never_charging(folder):
    """The control files of a copy of the firmware in this folder, wrong deep in a callee.

    All tests that need a second compiled core share this one.
    """
    shutil.copytree(Path(twinloop.__file__).parent, folder / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    path = folder / "twinloop" / "control" / "rules.py"
    good = "while state[s.CONDITIONS] & NEEDS[at] != NEEDS[at]"
    assert path.read_text().count(good) == 1
    path.write_text(path.read_text().replace(good, good.replace("!=", "==")))
    return path.parent


def lived(run_block, case, *faults):
    """The storm's episode of this case, with these faults, after its last step."""
    episode = storm_run.open_episode(replace(case, faults=faults or case.faults))
    storm_run.run_span(run_block, episode, slice(0, len(episode.rows)))
    return episode


class Elements(HTMLParser):
    """What a browser would see of a page: start tags with attributes, text, figures by key."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.figures, self.text, self.scripts, self.rows, self.open = [], {}, [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.tags.append((tag, attributes))
        if tag not in ("meta", "use"):
            self.open.append(tag)
        if tag == "data":
            self.figures.setdefault(attributes["data-key"], set()).add(attributes["value"])
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_startendtag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        if "script" in self.open:
            self.scripts.append(data)
        elif "style" not in self.open:
            self.text.append(data)
            if "td" in self.open or "th" in self.open:
                self.rows[-1][-1] += data

    @property
    def words(self):
        return " ".join("".join(self.text).split())
