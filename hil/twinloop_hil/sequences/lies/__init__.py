"""Faulty actuators, plant and sensors: evidence, time to detection, response, retry, alarm."""

from . import alarms, glycol, radiator, sensors, spikes, taking

MODULES = (radiator, glycol, sensors, spikes, taking, alarms)
