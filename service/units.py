"""SI units of the numbers that calculations take and give, as part of their signatures.

Inside the house every number is a plain float (or a numpy array of floats) in the SI unit that its annotation names;
nothing is converted below the edge. ``Length`` reads "float, in metres".
"""

from typing import Annotated, TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]

Length: TypeAlias = Annotated[float, "m"]
Area: TypeAlias = Annotated[float, "m²"]
Volume: TypeAlias = Annotated[float, "m³"]
Angle: TypeAlias = Annotated[float, "rad"]
Duration: TypeAlias = Annotated[float, "s"]
Frequency: TypeAlias = Annotated[float, "Hz"]
Velocity: TypeAlias = Annotated[float, "m/s"]
Acceleration: TypeAlias = Annotated[float, "m/s²"]
RotationalSpeed: TypeAlias = Annotated[float, "rad/s"]
RotationalAcceleration: TypeAlias = Annotated[float, "rad/s²"]
Mass: TypeAlias = Annotated[float, "kg"]
MassFlow: TypeAlias = Annotated[float, "kg/s"]
VolumeFlow: TypeAlias = Annotated[float, "m³/s"]
MassFlux: TypeAlias = Annotated[float, "kg/(m²·s)"]
SpecificEnergy: TypeAlias = Annotated[float, "J/kg"]
SpecificConsumption: TypeAlias = Annotated[float, "kg/J"]
Inertia: TypeAlias = Annotated[float, "kg·m²"]
Density: TypeAlias = Annotated[float, "kg/m³"]
Force: TypeAlias = Annotated[float, "N"]
Torque: TypeAlias = Annotated[float, "N·m"]
Stiffness: TypeAlias = Annotated[float, "N/m"]
Pressure: TypeAlias = Annotated[float, "Pa"]
Stress: TypeAlias = Annotated[float, "Pa"]
Power: TypeAlias = Annotated[float, "W"]
Energy: TypeAlias = Annotated[float, "J"]
Temperature: TypeAlias = Annotated[float, "K"]
TemperatureDifference: TypeAlias = Annotated[float, "K"]
TemperatureRate: TypeAlias = Annotated[float, "K/s"]
Expansion: TypeAlias = Annotated[float, "1/K"]
KinematicViscosity: TypeAlias = Annotated[float, "m²/s"]
DynamicViscosity: TypeAlias = Annotated[float, "Pa·s"]
PressureCoefficient: TypeAlias = Annotated[float, "1/Pa"]
Ratio: TypeAlias = Annotated[float, "1"]
