"""Weather that drives the plant: files, sun and sky on the collector plane, a row per control step.

pandas and pvlib are imported only when a function needs them. The public names are:

    files      Weather; named_weather(name), read_weather(path) -> Weather
               (TMY2, TMY3, EPW, PVGIS, NSRDB)
    clear      clear_day(...), clear_days(...) -> Weather of cloudless days anywhere
    clouds     cloud_weights(...): clouds that pass within an interval, from a seed
    plane      on_plane(weather, values, sky_model) -> PlaneHours
    table      drive_table(weather, values, start_day, days, step_s)
               -> float64 (steps, DRIVE_COUNT)
    cold_main  cold_main_c(day_of_year, values) -> C

Time is local standard time without daylight saving. Values of an interval are means over it.
"""
