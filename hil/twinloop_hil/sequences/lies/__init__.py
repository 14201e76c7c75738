"""Faulty actuators, plant and sensors: evidence, time to detection, response, retry, alarm."""

from . import alarms, glycol, radiator, sensors

SEQUENCES = [*radiator.SEQUENCES, *glycol.SEQUENCES, *sensors.SEQUENCES, *alarms.SEQUENCES]
