"""The thermal model of the station: sun-heated glycol loop, exchanger, tank, radiator, taps and sensors.

Nothing is imported here, so that asking for a unit or a name stays cheap. The public names are:

    parameters  TABLE, plant_values(overrides) -> values, and one index constant for each row
    presets     COLLECTORS, collector(name) -> plant values of a generic collector
    state       every index of the arrays `plant`, `flux`, `drive`, `command`, `sensors` and `truth`
    storage     initial_plant(values, ambient_c, tank_low_c, tank_high_c) -> plant
                stored_heat(plant, values) -> (tank_j, loop_j)
                unexplained_j(flux, before, after) -> joules that the balance cannot explain
    plant       advance(plant, values, drive, command, flux, dt_s): compiled, in place, no allocation
    sensors     read_sensors(plant, values, out_c), truth(plant, values, out)

and one module a component: collector, pipe, exchanger, tank, radiator, valve, buoyancy, pumps, taps, fluids; what several
of them ask of a row of nodes is in rows.

Assumption shared by all of them: heat capacity by volume is one constant for each fluid, taken at
`fluids.STORAGE_REFERENCE_C`, so that heat carried and heat stored are counted with the same figure and the balance
closes to round-off. `fluids` states what that costs in accuracy. Viscosity does follow the temperature.
"""
