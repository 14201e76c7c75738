"""How each number of a report is made: one sentence for each key of the document that is shown."""

# Each flux is summed over the plant's inner steps: "over the run" means that sum of power times
# step.
FORMULAS = {
    "heat_kwh.collected": "sunlight that the absorber turned into heat, minus what the collector lost to air and sky, over the "
    "run, nights included",
    "heat_kwh.pump_heat": "electrical power of each running pump × the share that warms its fluid, over the run",
    "heat_kwh.used": "water drawn from the tank × its heat capacity × (its temperature − cold main), over all draws",
    "heat_kwh.dumped": "loss coefficient of the radiator × (its glycol − outdoor air), over the run, pumped or not",
    "heat_kwh.tank_losses": "loss coefficient of the tank × (each layer − room), over the run",
    "heat_kwh.pipe_losses": "loss coefficients of glycol pipes, exchanger shell and tank-loop pipes × (each − its surroundings), "
    "over the run",
    "heat_kwh.stored_change": "heat capacity × temperature of all tank layers, end minus start",
    "heat_kwh.loop_change": "the same for collector, pipes, exchanger with its water, tank-loop pipes and radiator",
    "heat_kwh.to_tank": "heat from glycol to drinking water through the plates of the exchanger, over the run, minus any "
    "that flowed back",
    "heat_kwh.tap": "water at the taps × its heat capacity × (temperature after the heater − cold main), over all draws",
    "heat_kwh.tap_short": "heat missing to reach the delivery temperature: heater too small, too slow or below its minimum",
    "heat_kwh.gas": "heat from the tankless heater ÷ its efficiency",
    "heat_kwh.gas_without_station": "heat that the heater alone would give the same draws of cold water ÷ its efficiency: the "
    "same for any station",
    "pump_mains_kwh": "electrical power of each running pump, by its speed and flow, over the run",
    "air.kwh.to_room": "air through the duct × its heat capacity × (its temperature at the room − room), fan running or not",
    "air.kwh.back_draught": "the same where air runs backwards: heat that the room lost",
    "air.kwh.fan": "electrical power of the fan, over the run",
    "air.kwh.backup": "heat of the room's backup heating, over the run",
    "air.kwh.backup_fuel": "the same ÷ its efficiency",
    "closure_percent": "what the balance leaves unexplained ÷ collected heat (at least 1 kWh) × 100",
    "solar_fraction": "1 − gas burnt ÷ gas for the same draws without the station",
    "starts": "times that the command went from off to on, counted by the firmware",
    "run_hours": "time with the command on, counted by the firmware",
    "duty_hours": "time in this duty, counted by the firmware",
    "hottest_c": "highest reading that the controller trusted",
    "hottest_true_c": "highest temperature in the plant itself, whatever the sensors read",
    "coldest_true_c": "lowest temperature in the plant itself, whatever the sensors read",
    "stagnation_hours": "time with the collector really at or above collector_limit, where it may hold steam and no pump runs",
    "guard_actions": "times that the guard, the last gate before the relays, had to overrule the rules; each one is a "
    "defect of the rules",
}
# Made here from two keys of the document.
STARTS_A_DAY = "starts of the collector pump ÷ days of the run"
LEFT_OVER = "collected + pump heat − used − dumped − tank losses − pipe losses − both changes; only rounding if all is well"
