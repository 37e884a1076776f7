"""What is asked of a valve spring and the train that it holds: the fields with their ranges."""

from typing import Annotated

from pydantic import Field

from service.answers.inputs import Id, Measured, Number, Speed, Tappet
from service.answers.valve_train import CamDuration, LobeRequest
from service.quantities import Quantity


def _load(meaning: str, plausible: str, example: str) -> Measured:
    return Measured("force", "20 .. 4000 N", plausible, example, meaning)


def _spring_length(meaning: str, plausible: str, example: str) -> Measured:
    return Measured("length", "10 .. 90 mm", plausible, example, meaning)


def _mass(meaning: str, plausible: str, example: str) -> Measured:
    return Measured("mass", "1 .. 1000 g", plausible, example, meaning)


class ValveSpringRequest(LobeRequest):
    """Seat load, installed length, and a second load with its length or the rate; the rest opens the further checks.

    With an inner spring send loads and rate of both together, and the solid length of the one that binds first.
    """

    installed_length: Annotated[Quantity, _spring_length("With the valve shut.", "28 .. 50 mm", "36 mm")]
    seat_load: Annotated[Quantity, _load("With the valve shut.", "150 .. 500 N", "300 N")]
    open_load: Annotated[Quantity, _load("At the open length.", "350 .. 1200 N", "555 N")] | None = None
    open_length: Annotated[Quantity, _spring_length("At which the open load was read.", "18 .. 42 mm", "27 mm")] | None = None
    spring_rate: (
        Annotated[Quantity, Measured("stiffness", "2 .. 200 N/mm", "10 .. 60 N/mm", "28 N/mm", "Load per length.")] | None
    ) = None
    solid_length: Annotated[Quantity, _spring_length("With the coils touching.", "18 .. 35 mm", "24.5 mm")] | None = None
    valve_lift: (
        Annotated[Quantity, Measured("length", "1 .. 30 mm", "6 .. 13 mm", "9.1 mm", "Full lift at the valve.")] | None
    ) = None
    retainer_gap: (
        Annotated[
            Quantity, Measured("length", "0.5 .. 40 mm", "8 .. 16 mm", "11.5 mm", "Retainer to guide or its seal, valve shut.")
        ]
        | None
    ) = None
    rev_limit: Speed | None = None
    valve_mass: Annotated[Quantity, _mass("Of one valve.", "40 .. 120 g", "80 g")] | None = None
    retainer_mass: Annotated[Quantity, _mass("Retainer with locks.", "10 .. 50 g", "25 g")] | None = None
    spring_mass: Annotated[Quantity, _mass("Spring, both if there are two.", "25 .. 90 g", "60 g")] | None = None
    push_rod_mass: Annotated[Quantity, _mass("Of one push rod.", "20 .. 150 g", "60 g")] | None = None
    tappet_mass: Annotated[Quantity, _mass("Of one tappet.", "30 .. 200 g", "85 g")] | None = None
    rocker_inertia: (
        Annotated[
            Quantity,
            Measured("inertia", "0.001 .. 20 kg*cm2", "0.1 .. 2 kg*cm2", "0.6 kg*cm2", "Of the rocker about its shaft."),
        ]
        | None
    ) = None
    valve_arm: (
        Annotated[Quantity, Measured("length", "10 .. 100 mm", "20 .. 50 mm", "35 mm", "Rocker shaft to valve stem.")] | None
    ) = None
    wire_diameter: (
        Annotated[Quantity, Measured("length", "0.5 .. 12 mm", "2.5 .. 6 mm", "4 mm", "Of the spring's wire.")] | None
    ) = None
    mean_diameter: (
        Annotated[Quantity, Measured("length", "5 .. 80 mm", "18 .. 40 mm", "26 mm", "Outside diameter less one wire.")] | None
    ) = None
    active_coils: Annotated[float, Number(1, 30, (3, 9), example=5, meaning="Coils that move.")] | None = None
    duration: CamDuration | None = None
    push_rod_length: (
        Annotated[Quantity, Measured("length", "80 .. 500 mm", "180 .. 320 mm", "280 mm", "Between the ball centres.")] | None
    ) = None
    push_rod_diameter: Annotated[Quantity, Measured("length", "3 .. 25 mm", "7 .. 12 mm", "9.5 mm", "Outside.")] | None = None
    push_rod_wall: (
        Annotated[
            Quantity, Measured("length", "0.3 .. 12.5 mm", "0.7 .. 2.5 mm", "1 mm", "Of the tube; half the diameter if solid.")
        ]
        | None
    ) = None
    pushrod_material: Annotated[Id, Field(description="steel or aluminium.", examples=["steel"])] | None = None
    push_rod_yield: (
        Annotated[Quantity, Measured("pressure", "50 .. 2000 MPa", "250 .. 1100 MPa", "400 MPa", "Yield strength.")] | None
    ) = None
    exhaust_valve_diameter: (
        Annotated[Quantity, Measured("length", "12 .. 70 mm", "28 .. 40 mm", "32 mm", "Head of the exhaust valve.")] | None
    ) = None
    opening_pressure: (
        Annotated[
            Quantity, Measured("pressure", "0 .. 3000 kPa", "200 .. 800 kPa", "500 kPa", "Cylinder gauge pressure as it opens.")
        ]
        | None
    ) = None
    tappet: Tappet | None = None
    lobe_width: (
        Annotated[Quantity, Measured("length", "3 .. 40 mm", "9 .. 18 mm", "14 mm", "Width of the contact on the lobe.")] | None
    ) = None
    crown_radius: (
        Annotated[Quantity, Measured("length", "0.05 .. 50 m", "0.4 .. 3 m", "1000 mm", "Of the tappet's face.")] | None
    ) = None
    oil_viscosity: (
        Annotated[
            Quantity,
            Measured("dynamic viscosity", "0.5 .. 1000 mPa*s", "4 .. 60 mPa*s", "12 mPa*s", "At the cam's temperature."),
        ]
        | None
    ) = None
    roughness: (
        Annotated[Quantity, Measured("length", "0.02 .. 10 um", "0.1 .. 1 um", "0.28 um", "RMS of both faces together.")] | None
    ) = None
