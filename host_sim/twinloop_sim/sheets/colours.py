"""Colours and line styles of figures, the same on the page and in the picture.

The hues are from the Okabe-Ito set, which people with any colour vision can tell apart. Lines also
differ in dash and duties in pattern, so that a print without colour still reads. Text and pale
fills are ours.
"""

from twinloop.control import state as s

BLACK = "#000000"
ORANGE = "#E69F00"
SKY = "#56B4E9"
GREEN = "#009E73"
YELLOW = "#F0E442"
BLUE = "#0072B2"
VERMILION = "#D55E00"
PURPLE = "#CC79A7"
GREY, PALE = "#7F7F7F", "#E4E4E4"

# Colour, plotly dash, width in px; one per sensor, in the order of SENSOR_NAMES, then from the top.
_LINES = (
    (ORANGE, "solid", 1.6),
    (BLUE, "dash", 1.8),
    (BLUE, "solid", 1.8),
    (PURPLE, "solid", 1.2),
    (PURPLE, "dot", 1.4),
    (GREY, "solid", 1.2),
    (GREEN, "solid", 0.7),
    (SKY, "dash", 1.2),
    (VERMILION, "dash", 1.2),
    (GREEN, "dash", 1.2),
)
SENSOR_LINES = {name: _LINES[sensor % len(_LINES)] for sensor, name in enumerate(s.SENSOR_NAMES)}
TRUTH_LINES = {
    "true_collector": (VERMILION, "dot", 1.2),
    "true_tank_node": (BLACK, "solid", 1.2),
    "true_tank_inlet": (SKY, "solid", 1.2),
    "true_exchanger_water": (BLACK, "dash", 1.2),
    "true_exchanger_plate": (SKY, "dash", 1.2),
    "true_loop_coldest": (BLACK, "dot", 1.2),
}
# Colour, plotly pattern, the same for matplotlib; one per duty, in the order of DUTY_NAMES.
DUTY_FILLS = (
    (PALE, "", ""),
    (GREEN, "", ""),
    (ORANGE, "/", "//"),
    (VERMILION, "x", "xx"),
    (SKY, "", ""),
    (BLUE, ".", ".."),
    (PURPLE, "", ""),
    (BLACK, "", ""),
    (GREY, "-", "--"),
    (YELLOW, "|", "||"),
)
_BARS = (BLACK, BLUE, GREY, VERMILION, PURPLE, GREEN)
OUTPUT_COLOURS = tuple(_BARS[output % len(_BARS)] for output in range(s.OUTPUTS))
SUN, DRAW = ORANGE, BLUE
LIMIT = "#555555"
