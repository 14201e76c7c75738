"""Weather that drives the plant: files read by pvlib, sun and sky on the collector's plane, one row a control step.

Nothing is imported here; pandas and pvlib are only imported when a function needs them. The public names are:

    files      Weather; greensboro() -> Weather; read_weather(path) -> Weather (TMY3 .csv, TMY2 .tm2)
    clear      clear_day(...) -> Weather of one cloudless day anywhere
    plane      on_plane(weather, values, sky_model) -> PlaneHours
    table      drive_table(weather, values, start_day, days, step_s) -> float64 (steps, DRIVE_COUNT)
    cold_main  cold_main_c(day_of_year, values) -> C

Time is local standard time without daylight saving. An interval's values are means over the interval.
"""
