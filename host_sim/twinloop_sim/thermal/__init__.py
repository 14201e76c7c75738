"""The thermal model of the station: glycol loop, exchanger, tank, radiator, taps, sensors.

Nothing is imported here, so that looking up a unit or a name stays cheap. The public names:

    parameters  TABLE, plant_values(overrides) -> values, and one index constant for each row
    presets     COLLECTORS, collector(name) -> plant values of a generic collector
    state       every index of the arrays `plant`, `flux`, `drive`, `command` and `sensors`
    storage     initial_plant(values, ambient_c, tank_low_c, tank_high_c) -> plant
                stored_heat(plant, values) -> (tank_j, loop_j)
    plant       advance(plant, values, drive, command, flux, dt_s), compiled, in place
    sensors     read_sensors(plant, values, out_c)

One module for each component: collector, pipe, exchanger, tank, radiator, valve, buoyancy, pumps,
taps, fluids. `rows` holds sums, means and extremes of a row of nodes. `flow` has what follows from
flow, `air` a solar air heater and its room, which the plant does not have yet.

All share one assumption: each fluid has a constant heat capacity by volume, taken at
`fluids.STORAGE_REFERENCE_C`. Heat carried and heat stored then use the same figure, and the balance
closes to rounding. `fluids` states what that costs in accuracy. Viscosity follows the temperature.
"""
