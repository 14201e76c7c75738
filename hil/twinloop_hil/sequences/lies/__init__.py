"""Faulty actuators, plant and sensors: evidence, time to detection, response, retry, alarm."""

from . import alarms, glycol, radiator, sensors

MODULES = (radiator, glycol, sensors, alarms)
