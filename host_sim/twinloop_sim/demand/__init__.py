"""Hot water demand: draw profiles, and the flow that they take at the tap in each control step.

profiles  PROFILES {"M", "L"}, Draw, daily_kwh(profile)
table     Variation of the days; draw_table(profile, days, step_s, cold_main_c, ...)
          -> float64 (steps,), L/min
"""
