"""Plausible range of each quantity of a scenario: kind, minimum, maximum and the reason.

Wide enough for every plant from a boat of 4 m to a yacht of 60 m; values outside are typing or
unit errors. Reasons without a source are common practice.
"""

from __future__ import annotations

from typing import Annotated

from fitcheck.scenario.schema.quantities import PLACE, Quantity, pair, three

# --- the boat -----------------------------------------------------------------------------------

TapeLength = Annotated[
    float, Quantity("length", "10 mm", "100 m", "the shortest and longest tape readings on board")
]
TapeError = Annotated[
    float,
    Quantity("length", "0 mm", "100 mm", "a reading with a larger error cannot prove a scale"),
]
Accuracy = Annotated[
    float, Quantity("length", "0 mm", "500 mm", "a surface with a larger error shows nothing")
]
HeightAboveSea = Annotated[
    float, Quantity("length", "-6 m", "20 m", "from the keel to the top deck of a large yacht")
]
OffCentre = Annotated[
    float, Quantity("length", "0 mm", "10 m", "half the beam of a large yacht is less")
]
KeepOff = Annotated[float, Quantity("length", "0 mm", "2 m", "as wide as a walkway")]
Thickness = Annotated[
    float, Quantity("length", "0.5 mm", "300 mm", "from sheet metal to a built-up bulkhead")
]
Felt = Annotated[float, Quantity("length", "1 mm", "2 m", "a gap is measured by hand with a rule")]
BelowPort = Annotated[
    float, Quantity("length", "0 mm", "6 m", "no hull opening is farther below its fitting")
]
HoleWidth = Annotated[
    float,
    Quantity("length", "3 mm", "2 m", "from a small tube to a cut-out one can crawl through"),
]
Place = Annotated[float, PLACE]
Heel = Annotated[
    float, Quantity("angle", "-60 deg", "60 deg", "beyond it the boat is on its side")
]
WaterTemperature = Annotated[
    float,
    Quantity("temperature", "-2 degC", "45 degC", "seawater freezes below; no sea is warmer"),
]
Salinity = Annotated[
    float,
    Quantity("mass fraction", "0 g/kg", "50 g/kg", "the seawater formulas are valid up to there"),
]
Atmosphere = Annotated[
    float,
    Quantity("pressure", "850 hPa", "1100 hPa", "lower and higher than any reading at sea level"),
]

# --- boxes --------------------------------------------------------------------------------------

Size = Annotated[
    float, Quantity("length", "5 mm", "6 m", "from a gauge to a rack of pressure vessels")
]
Service = Annotated[
    float, Quantity("length", "1 mm", "6 m", "a membrane comes out over its whole length")
]
OnModule = Annotated[
    float, Quantity("length", "-6 m", "6 m", "a port is on its module, whose size is limited too")
]
Mass = Annotated[
    float, Quantity("mass", "1 g", "5000 kg", "from a fitting to a plant for a large yacht")
]
Contents = Annotated[
    float, Quantity("volume", "0 L", "2000 L", "more would be a tank, not a module")
]
Turn = Annotated[
    float, Quantity("angle", "-360 deg", "360 deg", "a full turn in either direction")
]
Pitch = Annotated[
    float,
    Quantity("length", "2 mm", "100 mm", "finer cells fill the memory, coarser ones miss hoses"),
]

# --- hoses and fittings -------------------------------------------------------------------------

Bore = Annotated[
    float, Quantity("length", "1 mm", "200 mm", "from a gauge tube to a sea inlet main")
]
OutsideDiameter = Annotated[
    float, Quantity("length", "2 mm", "250 mm", "any bore that is allowed and its wall")
]
BendRadius = Annotated[
    float, Quantity("length", "3 mm", "3 m", "from soft tube to the widest armoured hose")
]
PressureRating = Annotated[
    float, Quantity("pressure", "0.2 bar", "2000 bar", "from drain hose to hydraulic hose")
]
Roughness = Annotated[
    float, Quantity("length", "0 mm", "3 mm", "a riveted, rusted pipe is no rougher")
]
Tolerance = Annotated[
    float, Quantity("fraction", "0 %", "30 %", "beyond that it is another size of hose")
]
Leg = Annotated[float, Quantity("length", "1 mm", "1 m", "longer would be a pipe, not a fitting")]
Wrench = Annotated[float, Quantity("length", "0 mm", "1 m", "the swing of a large wrench")]
StraightEnd = Annotated[
    float, Quantity("length", "1 mm", "1 m", "a hose tail and its clamp, or a few bores")
]
Reach = Annotated[float, Quantity("length", "1 mm", "1 m", "no clip bracket is longer")]
Span = Annotated[float, Quantity("length", "10 mm", "5 m", "a longer span is unsupported")]
Turns = Annotated[float, Quantity("", "0.1", "100", "more turns would be a whole roll")]
CoilDiameter = Annotated[
    float, Quantity("length", "20 mm", "3 m", "from soft tube to a wide hose in a coil")
]
SoldLength = Annotated[
    float, Quantity("length", "10 mm", "1000 m", "from a made-up link to a whole drum")
]
Price = Annotated[float, Quantity("", "0", "1000000", "in any currency")]
LossCoefficient = Annotated[
    float, Quantity("", "0", "10000", "a nearly closed valve has a few thousand")
]
Clearance = Annotated[
    float, Quantity("length", "0 mm", "500 mm", "more room than that is a keep-out volume")
]
EndAllowance = Annotated[float, Quantity("length", "0 mm", "500 mm", "no hose tail is longer")]
Spare = Annotated[
    float,
    Quantity("fraction", "0 %", "50 %", "half as much again is no allowance but another part"),
]
LossShare = Annotated[
    float,
    Quantity("fraction", "0 %", "50 %", "a hose that loses more is too narrow for any plant"),
]
Rounding = Annotated[
    float, Quantity("length", "0.1 mm", "5 m", "from one mark of a ruler to whole lengths of hose")
]

# --- the water side -----------------------------------------------------------------------------

Flow = Annotated[
    float,
    Quantity("flow", "0 L/min", "20000 L/min", "the engine cooling water of a large yacht"),
]
SomeFlow = Annotated[
    float,
    Quantity(
        "flow", "0.01 L/min", "20000 L/min", "from a drip to the cooling water of a large yacht"
    ),
]
Head = Annotated[
    float, Quantity("head", "0 m", "1000 m", "a feed pump does not reach membrane pressure")
]
SuctionHead = Annotated[
    float, Quantity("head", "0 m", "10.4 m", "air pressure lifts water no higher")
]
PrimingLift = Annotated[
    float, Quantity("length", "0 m", "10.4 m", "air pressure lifts water no higher")
]
FeedPressure = Annotated[
    float, Quantity("pressure", "0.01 bar", "25 bar", "the low-pressure side of any plant")
]
FeedLoss = Annotated[
    float, Quantity("pressure", "0 bar", "25 bar", "the low-pressure side of any plant")
]
Vacuum = Annotated[
    float, Quantity("pressure", "0 bar", "1.1 bar", "no vacuum is deeper than the air pressure")
]
MembranePressure = Annotated[
    float, Quantity("pressure", "1 bar", "150 bar", "from fresh water to the strongest vessels")
]
ReliefPressure = Annotated[
    float,
    Quantity("pressure", "1 bar", "300 bar", "above the working pressure of any seawater plant"),
]
Loss = Annotated[
    float,
    Quantity("pressure", "0 bar", "150 bar", "a module cannot lose more than the pump delivers"),
]
Recovery = Annotated[
    float, Quantity("fraction", "0.1 %", "90 %", "the brine has to carry the salt away")
]
Speed = Annotated[
    float, Quantity("rotation", "1 rpm", "10000 rpm", "from a hand pump to the fastest motor")
]
Exponent = Annotated[
    float, Quantity("", "0.5", "3", "between the square root and the cube of the flow")
]
NpshRatio = Annotated[
    float, Quantity("", "1", "10", "below 1 the pump cavitates; above 10 no plant passes")
]
Volumes = Annotated[float, Quantity("", "0.1", "100", "a hundred times the water in the plant")]

# --- several of them ----------------------------------------------------------------------------

ThreePlaces = Annotated[tuple[Place, Place, Place], three]
OnModuleAt = Annotated[tuple[OnModule, OnModule, OnModule], three]
ThreeSizes = Annotated[tuple[Size, Size, Size], three]
ThreeTurns = Annotated[tuple[Turn, Turn, Turn], three]
CurvePair = Annotated[tuple[Flow, Head], pair]
NpshPair = Annotated[tuple[Flow, SuctionHead], pair]
