"""Every formula is a function of plain numbers; `sweep` makes the same formula take arrays."""

import numpy as np

from overbank import sweep
from overbank.hydraulics.clean_screens import head_loss, kirschmer
from overbank.hydraulics.sections import trapezoid
from overbank.hydraulics.uniform import critical_depth, normal_depth
from overbank.hydraulics.weirs import road_flow

stream = trapezoid(bed_width=2.5, side_slope=1.5, manning_n=0.045)
print(f"normal depth   {normal_depth(stream, 6.0, 0.003):.3f} m")
print(f"critical depth {critical_depth(stream, 6.0):.3f} m")

loss = kirschmer(2.42, 0.020, 0.125, 60.0)
print(f"clean screen   {1000.0 * head_loss(loss, 1.0):.1f} mm at 1 m/s")

heads = np.array([0.0, 0.1, 0.2, 0.3])
print("over a road   ", np.round(sweep(road_flow)(heads, -1.0, 14.0, 1.5), 3), "m3/s")
