"""Buoyancy: the flow while the pumps stand still.

Simple form: two columns of mean temperature drive the loop by their difference in weight. A check
valve blocks less than its opening pressure. A worn one passes a share of an open pipe's flow, in
both directions.
"""

from .jit import kernel
from .pumps import flow_share


@kernel
def natural_flow_share(drive_pa, opening_pa, leak, head_pa, viscosity_ratio, laminar_share):
    """Return the flow that buoyancy drives past a check valve, relative to the pumped flow.

    Args: `drive_pa` (Pa, positive in the pump's direction), `opening_pa` (Pa, check valve), `leak`
    (1, 0 is tight, 1 is no valve), `head_pa` (Pa, the pump's pressure at its nominal flow),
    `viscosity_ratio`, `laminar_share` (as flow_share). Returns: (1), negative when it runs
    backwards. Source: ours, on `flow_share`.
    """
    if drive_pa > opening_pa:
        opened = flow_share((drive_pa - opening_pa) / head_pa, viscosity_ratio, laminar_share)
        return max(opened, leak * flow_share(drive_pa / head_pa, viscosity_ratio, laminar_share))
    if leak <= 0.0:
        return 0.0
    leaked = leak * flow_share(abs(drive_pa) / head_pa, viscosity_ratio, laminar_share)
    return leaked if drive_pa >= 0.0 else -leaked
