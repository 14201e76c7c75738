"""Faulty actuators, plant and sensors: the evidence, the time to detection, the response, the retry and the alarm."""

from . import alarms, glycol, radiator, sensors

SEQUENCES = [*radiator.SEQUENCES, *glycol.SEQUENCES, *sensors.SEQUENCES, *alarms.SEQUENCES]
