"""Faulty actuators, plant and sensors: evidence, time to detection, response, retry, alarm."""

from . import alarms, exchanged, glycol, radiator, sensors, spikes, taking

MODULES = (radiator, glycol, sensors, exchanged, spikes, taking, alarms)
