"""Where each number of a report comes from, in words: one row for each key of the document that a report shows."""

# Each flux is summed over the plant's inner steps, so "over the run" means that sum of power times step.
FORMULAS = {
    "heat_kwh.collected": "sunlight that the absorber turned into heat, less what the collector lost to air and sky, over the run, "
    "nights included",
    "heat_kwh.pump_heat": "electrical power of each running pump × the part of it that warms its fluid, over the run",
    "heat_kwh.used": "water drawn out of the tank × its heat capacity × (leaving temperature − cold main), over all draws",
    "heat_kwh.dumped": "radiator's loss coefficient × (its glycol − outdoor air), over the run, flowing or standing",
    "heat_kwh.tank_losses": "tank's loss coefficient × (each layer − room), over the run",
    "heat_kwh.pipe_losses": "loss coefficients of glycol pipes, exchanger shell and tank-loop pipes × (each − its surroundings), "
    "over the run",
    "heat_kwh.stored_change": "heat capacity × temperature of all tank layers, at the end less at the beginning",
    "heat_kwh.loop_change": "the same for collector, pipes, exchanger with its water, tank-loop pipes and radiator",
    "heat_kwh.to_tank": "heat that crossed the exchanger's plates from glycol to drinking water, over the run, less any that "
    "crossed back",
    "heat_kwh.tap": "water at the taps × its heat capacity × (its temperature after the heater − cold main), over all draws",
    "heat_kwh.tap_short": "what was missing to the delivery temperature: heater too small, too slow or below its threshold",
    "heat_kwh.gas": "heat that the tankless heater gave to the water ÷ its efficiency: fuel",
    "heat_kwh.gas_without_station": "heat that reached the taps ÷ the heater's efficiency: the fuel for that from cold water alone",
    "closure_percent": "what the balance leaves over ÷ the larger of collected heat and 1 kWh × 100",
    "solar_fraction": "1 − gas burnt ÷ gas that the same heat at the taps would have needed without the station",
    "starts": "changes of the command from off to on, counted by the firmware's meter",
    "run_hours": "time with the command on, counted by the firmware's meter",
    "duty_hours": "time in this duty, counted by the firmware's meter",
    "hottest_c": "highest reading that the controller trusted",
    "hottest_true_c": "highest temperature of the plant model itself, whatever the sensors said",
    "coldest_true_c": "lowest temperature of the plant model itself",
    "stagnation_hours": "time with the true collector at or above collector_limit, where there may be steam and no pump runs",
    "guard_actions": "times the last gate before the relays had to overrule the rules; each one is a defect of the rules",
}
# Made here from two keys of the document, not said by it.
STARTS_A_DAY = "starts of the collector pump ÷ days of the run"
LEFT_OVER = (
    "collected + pump heat − used − dumped − tank losses − pipe losses − both changes; nothing but rounding when all is well"
)
