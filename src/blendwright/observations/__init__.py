"""What the person saw at the bench, kept on this machine, and what it says about the next blend.

`observation` are the nouns, `store` the file, `database` how any such file is kept, `similarity`
how alike two blends are, `bayesian_update` and `visual_observations` the arithmetic for numbers and
for clear or cloudy, `crystal_rows` and `layer_correlation` what a measurement says to the fit of
the liquid model, `observed_blend` where they meet the estimates. Nothing leaves the machine.
"""

from blendwright.observations.observation import KINDS, MeasuredBlend, Observation, measured_blend
from blendwright.observations.store import ObservationsError, read_observations

__all__ = [
    "KINDS",
    "MeasuredBlend",
    "Observation",
    "ObservationsError",
    "measured_blend",
    "read_observations",
]
