"""A solar air heater beside the station: collector, fan and duct, and the room that it warms.

Room air is drawn from near the floor, through the collector and back: a closed loop. Not yet part
of the plant. The public names:

    parameters  TABLE, air_values(overrides) -> values, and one index constant for each row
    presets     ROOMS, room(name) -> values of a packing shed, a cellar
    state       every index of the arrays `air`, `drive` and `flux`
    channel     advance_air(air, values, drive, fan_level, flux, dt_s), compiled, in place
    storage     initial_air(ambient_c, room_c) -> air
                stored_heat(air, values) -> (absorber_j, room_j)

One module for each component: collector, duct (with its fan and damper), building. `figures` and
`properties` are for set-up only.
Air has one density and one heat capacity, those of dry air at 20 C and the place's altitude; only
buoyancy knows that warm air is lighter.
"""
