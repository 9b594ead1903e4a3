"""The build record and the stock parts, declared once.

Each field carries its title, what it means and an example. Validation, the JSON Schema an editor reads and the
field reference in the manual are all made from these declarations.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, ClassVar, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    StringConstraints,
    Tag,
    model_validator,
)
from pydantic_core import PydanticCustomError

from buildsheets.records.quantities import (
    Angle,
    Capacitance,
    Current,
    CurrentOrZero,
    Decimal,
    EmfConstant,
    Fraction,
    FractionOrZero,
    Frequency,
    Grade,
    Inductance,
    Inertia,
    Length,
    LengthOrZero,
    Mass,
    Money,
    PlainDate,
    Power,
    Resistance,
    Rotation,
    RotationOrZero,
    ScaleRatio,
    Speed,
    Temperature,
    ThermalResistance,
    Time,
    TimeOrZero,
    Tolerance,
    TorqueOrZero,
    Voltage,
    VoltageOrZero,
)
from buildsheets.records.scales import ScaleName

Line = Annotated[str, StringConstraints(min_length=1, max_length=160, strip_whitespace=True)]


def lies_inside(path: str) -> bool:
    """Whether a path written in a record stays in the folder of the library: records come from many hands."""
    parts = path.split("/")
    return not ("\\" in path or ":" in path or "" in parts or ".." in parts)


def _inside_library(path: str) -> str:
    if not lies_inside(path):
        raise PydanticCustomError(
            "path", "{path} does not lead to a file of the library; write it from the library's folder with / between",
            {"path": path},
        )
    return path


PicturePath = Annotated[Line, AfterValidator(_inside_library)]
Prose = Annotated[str, StringConstraints(min_length=1, max_length=20_000, strip_whitespace=True)]
Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=80)]
Teeth = Annotated[int, Field(strict=True, ge=5, le=400)]
Count = Annotated[int, Field(strict=True, ge=1, le=1000)]
Step = Annotated[int, Field(strict=True, ge=1, le=126)]
CvNumber = Annotated[int, Field(strict=True, ge=1, le=1024)]
CvValue = Annotated[int, Field(strict=True, ge=0, le=255)]
DecoderScale = Annotated[int, Field(strict=True, ge=0, le=255)]
Flag = Annotated[bool, Field(strict=True)]


class Part(BaseModel):
    """What all declarations share: unknown keys are errors, values do not change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class StockPart(Part):
    """A part the club keeps data on once and many records use."""

    stock_section: ClassVar[str]

    stock: Line | None = Field(
        None, title="Stock part", description="Name of a part in builds/stock; fields written here override it.",
        examples=["can-1220-12v"],
    )
    name: Line | None = Field(
        None, title="Name", description="Kind and size in plain words, no maker.",
        examples=["12 x 20 mm five-pole can, 12 V"],
    )
    unit_price: Money | None = Field(
        None, title="Unit price", description="Price of one, in the currency of the record.", examples=["14.50"]
    )
    source: Line | None = Field(
        None, title="Source of the data", description="Where these values come from.",
        examples=["measured on three samples", "data sheet"],
    )


class Status(StrEnum):
    """How far a build has come."""

    PLANNED = "planned"
    ON_THE_BENCH = "on the bench"
    RUNNING = "running"
    SET_ASIDE = "set aside"


class Route(StrEnum):
    """What a conversion consists of; decides which cautions and steps a sheet has."""

    MOTOR_SWAP = "motor swap"
    PINION_CHANGE = "pinion change"
    REGEARING = "re-gearing"
    DROPPER = "dropper"
    HARD_WIRED_DECODER = "hard-wired decoder"
    PLUG_IN_DECODER = "plug-in decoder"
    SOUND = "sound"
    LAMPS = "lamps"
    STAY_ALIVE = "stay-alive"


class Traction(StrEnum):
    """What the prototype is driven by."""

    STEAM = "steam"
    DIESEL = "diesel"
    ELECTRIC = "electric"
    RAILCAR = "railcar"


class Material(StrEnum):
    """What a shell or a neighbour of a warm part is made of."""

    POLYSTYRENE = "polystyrene"
    ABS = "ABS"
    PLA = "PLA"
    PETG = "PETG"
    RESIN = "printed resin"
    ACETAL = "acetal"
    NYLON = "nylon"
    WHITE_METAL = "white metal"
    ZINC = "zinc alloy"
    BRASS = "brass"


class Dates(Part):
    """The days that matter to a reader."""

    started: PlainDate | None = Field(None, title="Started", description="First day at the bench.", examples=["2026-03-02"])
    first_run: PlainDate | None = Field(None, title="First run", description="First day it ran.", examples=["2026-03-09"])
    finished: PlainDate | None = Field(None, title="Finished", description="Day it was handed over.", examples=["2026-03-21"])
    changed: PlainDate | None = Field(None, title="Changed", description="Last change of this record.", examples=["2026-04-01"])


class Prototype(Part):
    """The full-size locomotive."""

    type: Traction | None = Field(None, title="Type", description="What drives it.", examples=["steam"])
    vehicle_class: Line | None = Field(
        None, title="Class", description="Wheel arrangement or kind, in general words.", examples=["0-6-2 tank"]
    )
    driving_wheel: Length | None = Field(
        None, title="Driving wheel", description="Diameter over the tread of the full-size wheel.", examples=["5 ft 2 in"]
    )
    top_speed: Speed | None = Field(None, title="Top speed", description="Highest speed in service.", examples=["55 mph"])
    cylinders: Annotated[int, Field(strict=True, ge=1, le=4)] | None = Field(
        None, title="Cylinders", description="Number of cylinders of a steam locomotive.", examples=[2]
    )
    beats_per_turn: Annotated[int, Field(strict=True, ge=1, le=60)] | None = Field(
        None, title="Beats per turn",
        description="Exhaust beats in one turn of the driving wheel; overrides what follows from the cylinders.",
        examples=[4],
    )


class Model(Part):
    """The model as it stands on the rails."""

    scale: ScaleName | None = Field(None, title="Scale", description="A named scale.", examples=["OO", "N", "H0"])
    ratio: ScaleRatio | None = Field(
        None, title="Ratio", description="The true ratio, when the scale has no name or several.", examples=["1:76.2"]
    )
    driving_wheel: Length | None = Field(
        None, title="Driving wheel", description="Diameter over the tread of the model's wheel.", examples=["20.3 mm"]
    )
    mass: Mass | None = Field(None, title="Mass", description="Whole locomotive, tender included.", examples=["285 g"])
    driven_mass: Mass | None = Field(
        None, title="Mass on driven wheels", description="What the driven wheels carry.", examples=["240 g"]
    )
    drive_in: Literal["loco", "tender", "power bogie"] = Field(
        "loco", title="Drive in", description="Where the motor sits.", examples=["tender"]
    )
    tyres: Literal["plain", "traction"] = Field(
        "plain", title="Tyres", description="Plain metal, or some wheels with rubber-type tyres.", examples=["plain"]
    )
    shell_material: Material | None = Field(
        None, title="Shell material", description="What the body over the works is made of.", examples=["polystyrene"]
    )
    pickups: Literal["loco", "tender", "both"] | None = Field(
        None, title="Pick-ups", description="Which wheels collect current.", examples=["both"]
    )
    live_frame: Literal["left rail", "right rail", "neither"] | None = Field(
        None, title="Live side of the frame", description="Rail that a meter finds joined to the metal frame, the locomotive facing forward.",
        examples=["right rail"],
    )

    @model_validator(mode="after")
    def _one_scale(self) -> Model:
        if self.driven_mass and self.mass and self.driven_mass.value > self.mass.value * 1.0001:
            raise PydanticCustomError(
                "inconsistent", "the mass on driven wheels is more than the whole mass; give at most {most}",
                {"field": "driven_mass", "most": self.mass.text},
            )
        return self


class Gear(StockPart):
    """One gear wheel or pinion."""

    stock_section: ClassVar[str] = "gears"

    teeth: Teeth | None = Field(None, title="Teeth", description="Number of teeth.", examples=[11])
    module: Length | None = Field(None, title="Module", description="Pitch diameter divided by teeth.", examples=["0.4 mm"])
    diametral_pitch: Annotated[int, Field(strict=True, ge=10, le=300)] | None = Field(
        None, title="Diametral pitch", description="Teeth per inch of pitch diameter, instead of the module.", examples=[64]
    )
    pressure_angle: Angle | None = Field(
        None, title="Pressure angle", description="Of the cutter; 20 deg is assumed when left out.", examples=["20 deg"]
    )
    shift: Decimal | None = Field(
        None, title="Profile shift", description="Profile shift coefficient x the wheel was cut with.", examples=["0.3"]
    )
    bore: Length | None = Field(None, title="Bore", description="Hole for the shaft.", examples=["1.5 mm"])
    fit: Literal["press", "grub screw", "adhesive"] | None = Field(
        None, title="Fit", description="How it holds on the shaft.", examples=["press"]
    )
    face: Length | None = Field(None, title="Face width", description="Length of the teeth.", examples=["3 mm"])
    material: Line | None = Field(None, title="Material", description="What it is made of.", examples=["brass"])


def _gear_kind(value: Any) -> str:
    return "gear" if isinstance(value, dict | Gear) else "teeth"


GearOrTeeth = Annotated[
    Annotated[Teeth, Tag("teeth")] | Annotated[Gear, Tag("gear")],
    Discriminator(_gear_kind),
]


class CutFor(Part):
    """The pair the mount's fixed centres were made for."""

    driver: Teeth | None = Field(None, title="Driver then", description="Teeth of the driver the mount was made for.", examples=[12])
    driven: Teeth | None = Field(None, title="Driven then", description="Teeth of its mate, when it was another wheel.", examples=[38])
    driver_shift: Decimal | None = Field(None, title="Shift of that driver", description="Profile shift of that driver.", examples=["0.3"])
    driven_shift: Decimal | None = Field(None, title="Shift of that mate", description="Profile shift of its mate.", examples=["0"])
    centre_distance: Length | None = Field(
        None, title="Measured centre distance", description="Shaft to shaft, measured; it wins over the teeth.", examples=["10.02 mm"]
    )


class SpurStage(Part):
    """A pair of spur gears, with idlers between them if there are any."""

    driver: GearOrTeeth = Field(title="Driver", description="Teeth of the wheel on the motor's side, or a gear.", examples=[11])
    driven: GearOrTeeth = Field(title="Driven", description="Teeth of the wheel on the axle's side, or a gear.", examples=[38])
    idlers: list[Teeth] = Field(default=[], title="Idlers", description="Teeth of wheels between the two, in order.", examples=[[20]])
    module: Length | None = Field(None, title="Module", description="Common module of the pair.", examples=["0.4 mm"])
    diametral_pitch: Annotated[int, Field(strict=True, ge=10, le=300)] | None = Field(
        None, title="Diametral pitch", description="Instead of the module.", examples=[64]
    )
    pressure_angle: Angle | None = Field(None, title="Pressure angle", description="20 deg is assumed when left out.", examples=["20 deg"])
    driver_shift: Decimal | None = Field(None, title="Driver's profile shift", description="Coefficient x.", examples=["0.3"])
    driven_shift: Decimal | None = Field(None, title="Driven wheel's profile shift", description="Coefficient x.", examples=["0"])
    cut_for: CutFor | None = Field(
        None, title="Mount cut for", description="The pair the fixed centres were made for, when the pinion was swapped.",
        examples=[{"driver": 12}],
    )
    efficiency: Fraction | None = Field(None, title="Efficiency", description="Of this stage; assumed when left out.", examples=["0.92"])


class WormStage(Part):
    """A worm and its wheel."""

    worm: Annotated[int, Field(strict=True, ge=1, le=8)] = Field(title="Worm starts", description="Number of starts.", examples=[1])
    driven: GearOrTeeth = Field(title="Worm wheel", description="Teeth of the wheel.", examples=[30])
    module: Length | None = Field(None, title="Axial module", description="Axial pitch of the worm divided by pi.", examples=["0.4 mm"])
    worm_diameter: Length | None = Field(
        None, title="Worm pitch diameter", description="Diameter at the middle of the threads.", examples=["4.5 mm"],
    )
    pressure_angle: Angle | None = Field(
        None, title="Pressure angle", description="Normal pressure angle; 20 deg assumed.", examples=["20 deg"],
    )
    friction: FractionOrZero | None = Field(None, title="Friction factor", description="Of worm on wheel; 0.10 assumed.", examples=["0.10"])
    efficiency: Fraction | None = Field(None, title="Efficiency", description="Of this stage, when known.", examples=["0.40"])


def _stage_kind(value: Any) -> str:
    if isinstance(value, WormStage):
        return "worm stage"
    return "worm stage" if isinstance(value, dict) and "worm" in value else "spur stage"


Stage = Annotated[
    Annotated[SpurStage, Tag("spur stage")] | Annotated[WormStage, Tag("worm stage")],
    Discriminator(_stage_kind),
]


class GearTrain(Part):
    """From motor shaft to driven axle."""

    stages: list[Stage] = Field(
        min_length=1, max_length=8, title="Stages", description="In order from motor to axle.",
        examples=[[{"driver": 11, "driven": 38, "module": "0.4 mm"}, {"worm": 1, "driven": 24}]],
    )
    efficiency: Fraction | None = Field(None, title="Efficiency", description="Of the whole train, when measured.", examples=["0.35"])


class BenchPoint(Part):
    """One reading of the motor alone, on smooth direct current."""

    voltage: Voltage = Field(title="Volts", description="At the motor's tags.", examples=["6 V"])
    current: Current = Field(title="Current", description="Average.", examples=["45 mA"])
    speed: Rotation = Field(title="Speed", description="Of the shaft.", examples=["7400 rpm"])


class DrivenEmf(Part):
    """The motor turned by another one, terminals open."""

    speed: Rotation = Field(title="Speed", description="Of the shaft.", examples=["9000 rpm"])
    voltage: Voltage = Field(title="Volts", description="At the open tags.", examples=["6.2 V"])


class Motor(StockPart):
    """A permanent-magnet direct-current motor."""

    stock_section: ClassVar[str] = "motors"

    kind: Literal["iron core", "coreless"] | None = Field(
        None, title="Kind", description="Rotor with iron or without; decides inductance and how it takes low-frequency pulses.",
        examples=["iron core"],
    )
    nominal_voltage: Voltage | None = Field(None, title="Nominal volts", description="Volts the data are for.", examples=["12 V"])
    no_load_speed: Rotation | None = Field(None, title="No-load speed", description="Motor alone at nominal volts.", examples=["9500 rpm"])
    no_load_current: Current | None = Field(None, title="No-load current", description="Motor alone at nominal volts.", examples=["55 mA"])
    stall_current: Current | None = Field(None, title="Stall current", description="Shaft held at nominal volts.", examples=["0.9 A"])
    winding_resistance: Resistance | None = Field(
        None, title="Winding resistance", description="Mean over the rotor's positions, cold.", examples=["13.3 ohm"]
    )
    emf_constant: EmfConstant | None = Field(None, title="EMF constant", description="Volts per unit of speed.", examples=["11.2 mV s/rad"])
    inductance: Inductance | None = Field(None, title="Inductance", description="Of the winding.", examples=["4 mH"])
    rotor_inertia: Inertia | None = Field(None, title="Rotor inertia", description="Of the rotor alone.", examples=["1.2 g cm2"])
    bench: list[BenchPoint] = Field(
        default=[], title="Bench readings", description="Motor alone on smooth direct current; they win over the data sheet.",
        examples=[[{"voltage": "6 V", "current": "45 mA", "speed": "4600 rpm"}]],
    )
    driven_emf: DrivenEmf | None = Field(
        None, title="EMF when driven", description="Best way to the EMF constant.",
        examples=[{"speed": "9000 rpm", "voltage": "6.2 V"}],
    )
    diameter: Length | None = Field(None, title="Diameter", description="Of the can; the smaller side of a flat can.", examples=["12 mm"])
    width: Length | None = Field(None, title="Width", description="The larger side of a flat can.", examples=["15 mm"])
    length: Length | None = Field(None, title="Length", description="Of the can, without shaft.", examples=["20 mm"])
    shaft: Length | None = Field(None, title="Shaft", description="Diameter of the shaft.", examples=["1.5 mm"])
    shaft_ends: Annotated[int, Field(strict=True, ge=1, le=2)] | None = Field(
        None, title="Shaft ends", description="One or two.", examples=[2]
    )
    mount: Line | None = Field(None, title="Mount", description="How it is held.", examples=["two M1.6 holes at 6.5 mm"])
    continuous_current: Current | None = Field(None, title="Continuous current", description="What it bears for ever.", examples=["0.25 A"])
    insulation_class: Literal["A", "B", "F", "H"] | None = Field(
        None, title="Insulation class", description="Of the winding wire (IEC 60085).", examples=["B"]
    )
    thermal_resistance: ThermalResistance | None = Field(
        None, title="Thermal resistance", description="Winding to the air around the motor.", examples=["30 K/W"]
    )

    @model_validator(mode="after")
    def _turns_by_itself(self) -> Motor:
        """A motor that draws its stall current running free cannot be: two values were mixed up."""
        volts, free = self.nominal_voltage, self.no_load_current
        if volts is None or free is None:
            return self
        if self.stall_current is not None:
            most, words = self.stall_current.value, f"the stall current {self.stall_current.text}"
        elif self.winding_resistance is not None:
            most = volts.value / self.winding_resistance.value
            words = f"what {self.winding_resistance.text} lets through at {volts.text}"
        else:
            return self
        if free.value >= most:
            raise PydanticCustomError(
                "no_load_current",
                "no-load current {free} is not below {words}; give the current of the motor alone, and check the units",
                {"field": "no_load_current", "free": free.text, "words": words},
            )
        return self


class Mechanism(Part):
    """What the works themselves cost, beyond the motor's own friction."""

    kind: Literal["spur", "spur and worm", "worm", "belt", "power bogie"] | None = Field(
        None, title="Kind", description="Decides the drag assumed when none was measured; else taken from the gear train.",
        examples=["worm"],
    )
    road_current: Current | None = Field(
        None, title="Current on the rolling road", description="Whole works running on rollers.", examples=["95 mA"]
    )
    motor_alone_current: Current | None = Field(
        None, title="Current of the motor alone", description="Same motor speed, out of the works; the motor's no-load current if left out.",
        examples=["60 mA"],
    )
    drag_torque: TorqueOrZero | None = Field(
        None, title="Drag torque", description="At the motor shaft, when known.", examples=["0.3 mN m"],
    )
    start_voltage: Voltage | None = Field(
        None, title="Start volts", description="Smooth direct current at the motor's tags at which the works begin to move.",
        examples=["1.8 V"],
    )


class Flywheel(Part):
    """A plain disc on the motor shaft."""

    diameter: Length = Field(title="Diameter", description="Over the rim.", examples=["14 mm"])
    length: Length = Field(title="Length", description="Along the shaft.", examples=["8 mm"])
    material: Literal["brass", "steel", "lead", "tungsten"] = Field(
        "brass", title="Material", description="Decides its mass.", examples=["brass"],
    )


class Abilities(Part):
    """Which settings a decoder really has. Leave out what you do not know."""

    start_voltage: Flag | None = Field(None, title="Start volts (CV2)", description="CV2 can be set.", examples=[True])
    top_voltage: Flag | None = Field(None, title="Top volts (CV5)", description="CV5 can be set.", examples=[True])
    middle_voltage: Flag | None = Field(None, title="Middle volts (CV6)", description="CV6 can be set.", examples=[True])
    speed_table: Flag | None = Field(None, title="Speed table (CV67 to 94)", description="The 28 entries can be set.", examples=[False])
    trims: Flag | None = Field(None, title="Trims (CV66, CV95)", description="Forward and reverse trim.", examples=[False])
    momentum: Flag | None = Field(None, title="Acceleration (CV3, CV4)", description="Both rates can be set.", examples=[True])
    feedback: Flag | None = Field(None, title="Back-EMF feedback", description="It can hold the speed.", examples=[True])
    feedback_cut_off: Flag | None = Field(None, title="Feedback cut-off (CV10)", description="CV10 as in NMRA S-9.2.2.", examples=[True])
    pulse_period: Flag | None = Field(None, title="Pulse period (CV9)", description="CV9 as in NMRA S-9.2.2.", examples=[False])
    long_address: Flag | None = Field(None, title="Long address (CV17, CV18)", description="Four-figure addresses.", examples=[True])


class CurvePoint(Part):
    """One point of a curve the maker fixed."""

    step: Step = Field(title="Step", description="Of 126.", examples=[63])
    share: FractionOrZero = Field(title="Share", description="On-time as a share of full.", examples=["45 %"])


class Box(Part):
    """Outer size of a part."""

    length: Length = Field(title="Length", description="Longest side.", examples=["18 mm"])
    width: Length = Field(title="Width", description="Middle side.", examples=["9 mm"])
    height: Length = Field(title="Height", description="Thickness.", examples=["3.5 mm"])


class Decoder(StockPart):
    """A mobile decoder."""

    stock_section: ClassVar[str] = "decoders"

    kind: Literal["motor and lamps", "sound"] | None = Field(None, title="Kind", description="With or without sound.", examples=["sound"])
    pulse_class: Literal["low", "high"] | None = Field(
        None, title="Pulse class", description="Low is about 100 Hz, high about 20 kHz.", examples=["low"]
    )
    pulse_frequency: Frequency | None = Field(
        None, title="Pulse frequency", description="Of the motor drive, when known.", examples=["16 kHz"],
    )
    off_mode: Literal["coast", "brake", "open"] | None = Field(
        None, title="Off mode", description="What the bridge does between pulses: lets the current run on, shorts the motor, or opens.",
        examples=["coast"],
    )
    freewheel_drop: VoltageOrZero | None = Field(
        None, title="Freewheel drop", description="Of the diode the current runs through.", examples=["0.7 V"],
    )
    internal_drop: VoltageOrZero | None = Field(
        None, title="Internal drop", description="Rectifier and output stage together.", examples=["1.4 V"]
    )
    continuous_current: Current | None = Field(None, title="Continuous current", description="Motor rating.", examples=["1.0 A"])
    peak_current: Current | None = Field(None, title="Peak current", description="Short-time rating.", examples=["2.0 A"])
    abilities: Abilities | None = Field(None, title="Abilities", description="Settings it has.", examples=[{"start_voltage": True}])
    curve: list[CurvePoint] = Field(
        default=[], title="Fixed curve", description="On-time over the steps, when the maker fixed it.",
        examples=[[{"step": 1, "share": "4 %"}, {"step": 126, "share": "100 %"}]],
    )
    plug: Line | None = Field(None, title="Plug", description="Standard connector or bare wires.", examples=["NEM 652 (8-pin)", "wires"])
    size: Box | None = Field(
        None, title="Size", description="Outer size.", examples=[{"length": "20 mm", "width": "11 mm", "height": "4 mm"}],
    )
    function_outputs: Annotated[int, Field(strict=True, ge=0, le=32)] | None = Field(
        None, title="Function outputs", description="How many, lamps included.", examples=[4]
    )
    output_current: Current | None = Field(
        None, title="Current per output", description="Rating of one function output.", examples=["100 mA"],
    )
    amplifier_power: Power | None = Field(None, title="Amplifier power", description="Of the sound output.", examples=["1 W"])
    least_speaker_impedance: Resistance | None = Field(
        None, title="Least speaker impedance", description="The amplifier's limit.", examples=["8 ohm"]
    )


class FeedbackSample(Part):
    """How the decoder looks at the motor."""

    every: Time | None = Field(None, title="Every", description="Time from one look to the next.", examples=["10 ms"])
    window: Time | None = Field(None, title="Window", description="How long the pulses stop for it.", examples=["0.6 ms"])


class Feedback(Part):
    """Back-EMF feedback as set."""

    on: Flag = Field(title="On", description="Whether the decoder holds the speed.", examples=[True])
    cut_off_step: Annotated[int, Field(strict=True, ge=1, le=128)] | None = Field(
        None, title="Cut-off step", description="Step above which feedback stops.", examples=[80]
    )
    sample: FeedbackSample | None = Field(
        None, title="Sample", description="Rhythm and window.", examples=[{"every": "10 ms", "window": "0.6 ms"}],
    )
    input: Resistance | None = Field(None, title="Measuring resistance", description="Of the decoder's input.", examples=["100 kohm"])
    full_emf: Voltage | None = Field(
        None, title="Full reading", description="What the decoder steers for where its curve is at full; its own volts are assumed.",
        examples=["12 V"],
    )
    p: DecoderScale | None = Field(
        None, title="Proportional term (P)", description="As set, on the decoder's own scale.", examples=[40],
    )
    i: DecoderScale | None = Field(None, title="Integral term (I)", description="As set, on the decoder's own scale.", examples=[25])


class Supply(Part):
    """What is on the rails."""

    track: Voltage | None = Field(None, title="Track volts", description="At the rails, with its spread.", examples=["14.5 V ± 3 %"])
    meter: Literal["rectified", "scope", "ac meter", "as marked"] | None = Field(
        None, title="How it was read", description="Bridge and DC meter (two diodes added back), oscilloscope, plain AC meter, or the label.",
        examples=["rectified"],
    )
    highest: Voltage | None = Field(
        None, title="Highest track volts", description="The most the loco may meet on other layouts.", examples=["18 V"],
    )
    pickup_drop: VoltageOrZero | None = Field(None, title="Pick-up drop", description="Lost between rail and decoder.", examples=["0.2 V"])
    direct_current: Voltage | None = Field(
        None, title="Direct current", description="Full throttle of a DC controller, for a loco without decoder.", examples=["12 V"]
    )


class Resistor(StockPart):
    """One resistor."""

    stock_section: ClassVar[str] = "resistors"

    resistance: Resistance | None = Field(None, title="Resistance", description="Of one part.", examples=["220 ohm", "4R7"])
    tolerance: Tolerance | None = Field(None, title="Tolerance", description="As marked.", examples=["5 %"])
    rating: Power | None = Field(None, title="Rating", description="Rated power at 70 degC.", examples=["0.5 W"])
    thermal_resistance: ThermalResistance | None = Field(
        None, title="Thermal resistance", description="Body to air; else from the derating line.", examples=["170 K/W"]
    )
    zero_power_temperature: Temperature | None = Field(
        None, title="Zero-power temperature", description="Where the derating line ends; 155 degC assumed.", examples=["155 degC"]
    )
    rated_voltage: Voltage | None = Field(None, title="Voltage limit", description="Limiting element voltage.", examples=["350 V"])
    series: Literal["E6", "E12", "E24", "E48", "E96"] | None = Field(None, title="Series", description="IEC 60063.", examples=["E24"])
    diameter: Length | None = Field(None, title="Body diameter", description="Of the part.", examples=["2.5 mm"])
    length: Length | None = Field(None, title="Body length", description="Of the part.", examples=["6.8 mm"])


class Diode(StockPart):
    """One rectifier diode of a dropper string."""

    stock_section: ClassVar[str] = "diodes"

    kind: Literal["silicon", "Schottky"] | None = Field(None, title="Kind", description="Decides the characteristic.", examples=["silicon"])
    continuous_current: Current | None = Field(None, title="Continuous current", description="Rating.", examples=["1 A"])
    thermal_resistance: ThermalResistance | None = Field(None, title="Thermal resistance", description="Body to air.", examples=["100 K/W"])
    package: Literal["diode", "bridge"] | None = Field(
        None, title="Package", description="A single diode, or a bridge rectifier with its + and − joined: that is two pairs in one body.",
        examples=["bridge"],
    )


class DiodeString(Part):
    """Anti-parallel pairs in series with the motor."""

    pairs: Annotated[int, Field(strict=True, ge=1, le=20)] = Field(
        title="Pairs", description="Anti-parallel pairs one after another.", examples=[3],
    )
    diode: Diode | None = Field(None, title="Diode", description="The part used.", examples=[{"kind": "silicon"}])
    bypass: Resistance | None = Field(None, title="Bypass", description="Resistor across the whole string.", examples=["1 kohm"])


class Dropper(Part):
    """What sits in series with the motor to lower its volts."""

    resistor: Resistor | None = Field(
        None, title="Resistor", description="One part of the bank.", examples=[{"resistance": "47 ohm", "rating": "0.5 W", "tolerance": "5 %"}]
    )
    parallel: Count = Field(1, title="In parallel", description="How many side by side.", examples=[2])
    in_series: Count = Field(1, title="In series", description="How many such groups one after another.", examples=[1])
    diodes: DiodeString | None = Field(None, title="Diodes", description="String of anti-parallel pairs.", examples=[{"pairs": 3}])
    layout: Literal["free", "row", "block", "one face free"] | None = Field(
        None, title="Layout", description="How the parts lie, which decides how they shed heat.", examples=["row"]
    )
    near: Material | None = Field(None, title="Near", description="Material of what is closest to it.", examples=["polystyrene"])
    clearance: LengthOrZero | None = Field(None, title="Clearance", description="Air to that neighbour.", examples=["3 mm"])
    place: Line | None = Field(None, title="Place", description="Where it sits.", examples=["tender, on the metal frame"])

    @model_validator(mode="after")
    def _something_there(self) -> Dropper:
        if self.resistor is None and self.diodes is None:
            raise PydanticCustomError(
                "empty_dropper", "a dropper needs a resistor or diodes; leave the whole dropper out if there is none", {}
            )
        return self


class Target(Part):
    """What the builder wants."""

    speed: Speed = Field(title="Speed", description="Wanted scale speed.", examples=["55 mph"])
    at_step: Step = Field(126, title="At step", description="The step at which it should run so.", examples=[126])
    start_step: Step | None = Field(None, title="Start step", description="It should start no later than this.", examples=[8])
    curve: Literal["straight", "slow low steps"] = Field(
        "straight", title="Curve", description="Even rise over the steps, or finer low steps: a third of the speed at half the steps.",
        examples=["slow low steps"],
    )


class Train(Part):
    """What it pulls, and over what."""

    vehicles: Annotated[int, Field(strict=True, ge=0, le=200)] = Field(
        0, title="Vehicles", description="Behind the locomotive.", examples=[4],
    )
    vehicle_mass: Mass | None = Field(None, title="Mass of one vehicle", description="Mean.", examples=["110 g"])
    grade: Grade | None = Field(None, title="Ruling grade", description="Steepest climb it must manage.", examples=["1 in 60"])
    curve_radius: Length | None = Field(None, title="Sharpest curve", description="Radius of the centre line.", examples=["600 mm"])
    curve_resistance: FractionOrZero | None = Field(
        None, title="Curve resistance", description="Extra pull over weight on that curve; a rule of full-size railways if left out.",
        examples=["0.012"],
    )
    rolling_resistance: FractionOrZero | None = Field(
        None, title="Rolling resistance", description="Pull over weight; 0.015 assumed.", examples=["0.02"],
    )
    adhesion: Fraction | None = Field(
        None, title="Adhesion", description="Pull at slip over weight on drivers; 0.20 assumed.", examples=["0.22"],
    )


class Surroundings(Part):
    """Temperatures around the works."""

    room: Temperature | None = Field(None, title="Room", description="25 degC assumed.", examples=["25 degC"])
    shell_resistance: ThermalResistance | None = Field(
        None, title="Shell resistance", description="Air inside the body against the room, per watt inside.", examples=["6 K/W"]
    )


class Placed(Part):
    """A box in the cavity, measured from its rear lower left corner.

    With `along` and `across` it has a place and stands on the floor unless `up` says otherwise. Without them a place is worked
    out; a single coordinate that is given is then kept, and the box may be turned or laid on a side.
    """

    name: Line = Field(title="Name", description="What it is.", examples=["decoder"])
    size: Box = Field(title="Size", description="Outer size.", examples=[{"length": "20 mm", "width": "11 mm", "height": "4 mm"}])
    along: LengthOrZero | None = Field(None, title="Along", description="From the rear end; worked out if left out.", examples=["12 mm"])
    across: LengthOrZero | None = Field(None, title="Across", description="From the left side; worked out if left out.", examples=["2 mm"])
    up: LengthOrZero | None = Field(None, title="Up", description="From the floor.", examples=["0 mm"])
    gap: LengthOrZero | None = Field(None, title="Gap", description="Air wanted all round, but for the floor it stands on.", examples=["1 mm"])


class Space(Part):
    """The room there is for parts."""

    cavity: Box | None = Field(
        None, title="Cavity", description="Clear size inside.", examples=[{"length": "70 mm", "width": "24 mm", "height": "22 mm"}],
    )
    keep_outs: list[Placed] = Field(default=[], title="Keep-outs", description="What is in the way.")
    parts: list[Placed] = Field(default=[], title="Parts", description="What must go in; with a position when it has one.")


class Led(StockPart):
    """One light-emitting diode."""

    stock_section: ClassVar[str] = "leds"

    colour: Line | None = Field(None, title="Colour", description="As seen.", examples=["warm white"])
    forward_voltage: Voltage | None = Field(None, title="Forward volts", description="At the wanted current.", examples=["3.0 V"])
    most_current: Current | None = Field(None, title="Most current", description="Rating.", examples=["20 mA"])


class Lamp(Part):
    """One lamp circuit on a function output."""

    name: Line = Field(title="Name", description="Which lamp.", examples=["front lamp"])
    output: Literal["front", "rear", "output 1", "output 2", "output 3", "output 4"] | None = Field(
        None, title="Output", description="Function output it hangs on.", examples=["front"]
    )
    led: Led | None = Field(None, title="LED", description="The part.", examples=[{"forward_voltage": "3.0 V"}])
    count: Count = Field(1, title="Count", description="LEDs on this output.", examples=[2])
    join: Literal["series", "parallel"] = Field("series", title="Join", description="How several are joined.", examples=["series"])
    current: Current | None = Field(None, title="Wanted current", description="Per LED.", examples=["3 mA"])
    resistor: Resistance | None = Field(None, title="Resistor fitted", description="As built; in parallel one at each LED.", examples=["4k7"])


class Speaker(StockPart):
    """One loudspeaker."""

    stock_section: ClassVar[str] = "speakers"

    impedance: Resistance | None = Field(None, title="Impedance", description="As marked.", examples=["8 ohm"])
    power: Power | None = Field(None, title="Power", description="As marked.", examples=["1 W"])
    size: Box | None = Field(
        None, title="Size", description="Outer size.", examples=[{"length": "15 mm", "width": "11 mm", "height": "8 mm"}],
    )


class Sound(Part):
    """Speakers of a sound decoder."""

    speaker: Speaker = Field(title="Speaker", description="The part.", examples=[{"impedance": "8 ohm", "power": "1 W"}])
    count: Count = Field(1, title="Count", description="How many.", examples=[1])
    join: Literal["series", "parallel"] = Field("series", title="Join", description="How several are joined.", examples=["series"])


class Capacitor(StockPart):
    """A store of charge that bridges dirty track."""

    stock_section: ClassVar[str] = "capacitors"

    capacitance: Capacitance | None = Field(None, title="Capacitance", description="Of the whole store.", examples=["0.2 F", "1000 uF"])
    rated_voltage: Voltage | None = Field(None, title="Rated volts", description="Must stay above the rail peak.", examples=["16.2 V"])


class StayAlive(Part):
    """The store and how it is charged."""

    capacitor: Capacitor = Field(title="Capacitor", description="The part.", examples=[{"capacitance": "0.2 F", "rated_voltage": "16.2 V"}])
    charging_resistor: Resistance | None = Field(None, title="Charging resistor", description="Limits the inrush.", examples=["100 ohm"])
    least_voltage: Voltage | None = Field(None, title="Least volts", description="Where the decoder stops.", examples=["7 V"])


class PartLine(Part):
    """One line of the parts list."""

    name: Line = Field(title="Name", description="Kind and size in plain words.", examples=["resistor 47 ohm 0.5 W"])
    quantity: Count = Field(1, title="Quantity", description="How many.", examples=[2])
    stock: Line | None = Field(
        None, title="Stock part", description="Name in builds/stock; brings its price.", examples=["resistor-47r-half-watt"],
    )
    unit_price: Money | None = Field(None, title="Unit price", description="Price of one.", examples=["0.12"])
    used_for: Line | None = Field(None, title="Used for", description="Where it goes.", examples=["dropper"])


class Place(StrEnum):
    """Named places in the order of work, where a builder's own steps and pictures go."""

    SURVEY = "survey"
    DISMANTLING = "dismantling"
    MOTOR = "motor"
    GEARS = "gears"
    DROPPER = "dropper"
    WIRING = "wiring"
    INSULATION = "insulation"
    PROGRAMMING = "programming"
    FIRST_RUN = "first run"
    RUNNING_IN = "running in"
    FINISHING = "finishing"


class BuilderStep(Part):
    """A step in the builder's own words."""

    at: Place = Field(title="At", description="Where in the order of work it belongs.", examples=["motor"])
    do: Prose = Field(title="Do", description="What to do, in Markdown.", examples=["Shim the cradle with 0.25 mm card."])


class Picture(Part):
    """A photograph or drawing."""

    file: PicturePath = Field(title="File", description="Path inside the library.", examples=["pictures/harbour-tank-cradle.jpg"])
    shows: Line = Field(title="Shows", description="What one sees; read out to those who cannot.", examples=["The new motor in its cradle"])
    step: Place | None = Field(None, title="Step", description="Place in the order of work.", examples=["motor"])


class CvSetting(Part):
    """One configuration variable as set."""

    cv: CvNumber = Field(title="CV", description="Number of the configuration variable.", examples=[3])
    value: CvValue = Field(title="Value", description="0 to 255.", examples=[6])
    page: Line | None = Field(
        None, title="Page", description="Index page (CV31, CV32), where the decoder pages its CVs.", examples=["16, 0"],
    )
    why: Line | None = Field(None, title="Why", description="Reason in a few words.", examples=["gentle start"])


class Before(Part):
    """The locomotive as it was found; charts show it beside the built one."""

    motor: Motor | None = Field(None, title="Motor", description="As found.", examples=[{"stock": "open-frame-5-pole"}])
    gear_train: GearTrain | None = Field(None, title="Gear train", description="As found; else the present one.")
    mechanism: Mechanism | None = Field(None, title="Mechanism", description="As found; else the present one.")
    decoder: Decoder | None = Field(None, title="Decoder", description="As found; none for a loco on direct current.")
    dropper: Dropper | None = Field(None, title="Dropper", description="As found.")
    supply: Supply | None = Field(
        None, title="Supply", description="As found; direct_current for a DC loco.", examples=[{"direct_current": "12 V"}],
    )
    decoder_settings: list[CvSetting] = Field(default=[], title="Decoder settings", description="As found.")
    note: Prose | None = Field(None, title="Note", description="What else was found.", examples=["Magnet weak, brushes worn."])


class Load(StrEnum):
    """What the motor had to move while a reading was taken."""

    MOTOR_ALONE = "motor alone"
    ROLLING_ROAD = "rolling road"
    LIGHT = "light"
    TRAIN = "train"


class ReadingConditions(Part):
    """What every reading states or inherits."""

    load: Load | None = Field(None, title="Load", description="What it moved.", examples=["light"])
    feedback: Flag | None = Field(None, title="Feedback", description="Whether back-EMF feedback was on.", examples=[False])
    direction: Literal["forward", "reverse"] | None = Field(None, title="Direction", description="Way it ran.", examples=["forward"])
    track: Voltage | None = Field(None, title="Track volts", description="During the reading.", examples=["14.4 V"])
    warm: TimeOrZero | None = Field(None, title="Warm", description="How long it had run before.", examples=["5 min"])
    meter: Literal["average", "true rms"] | None = Field(
        None, title="Meter", description="What the meter shows on pulses.", examples=["average"],
    )
    meter_error: Tolerance | None = Field(None, title="Meter error", description="As its leaflet says.", examples=["1 %"])
    timing: Literal["stopwatch", "video", "light gate"] | None = Field(
        None, title="Timing", description="How the run was timed.", examples=["stopwatch"],
    )
    at: Literal["motor", "decoder"] | None = Field(
        None, title="Probes at", description="Motor tags, or the decoder's motor leads.", examples=["motor"],
    )
    trial: Slug | None = Field(None, title="Trial", description="Trial it belongs to; else the build as it stands.", examples=["ten-tooth"])


class Reading(ReadingConditions):
    """One line from the notebook."""

    hold_point: Slug | None = Field(None, title="Hold point", description="The hold point it answers.", examples=["bank-resistance"])
    step: Step | None = Field(None, title="Step", description="Speed step of 126.", examples=[64])
    volts: Voltage | None = Field(None, title="Volts applied", description="Smooth direct current instead of a step.", examples=["6 V"])
    distance: Length | None = Field(None, title="Distance", description="Of the timed run.", examples=["2 m"])
    time: Time | None = Field(None, title="Time", description="Of the timed run.", examples=["9.8 s"])
    motor_speed: RotationOrZero | None = Field(None, title="Motor speed", description="Of the shaft.", examples=["6200 rpm"])
    wheel_speed: RotationOrZero | None = Field(None, title="Wheel speed", description="Of the driven wheels.", examples=["140 rpm"])
    motor_voltage: VoltageOrZero | None = Field(None, title="Motor volts", description="Average.", examples=["4.1 V"])
    motor_current: CurrentOrZero | None = Field(None, title="Motor current", description="Average.", examples=["120 mA"])
    resistance: Resistance | None = Field(None, title="Resistance", description="Ohm-meter, power off.", examples=["23.4 ohm"])
    temperature: Temperature | None = Field(None, title="Temperature", description="Of the thing named in `of`.", examples=["58 degC"])
    of: Literal["dropper", "motor", "decoder", "shell", "air inside"] | None = Field(
        None, title="Temperature of", description="Where the probe was.", examples=["dropper"]
    )
    start_step: Step | None = Field(None, title="Start step", description="First step at which it moved off.", examples=[9])

    @model_validator(mode="after")
    def _pairs(self) -> Reading:
        for one, other in (("distance", "time"), ("time", "distance"), ("temperature", "of"), ("of", "temperature")):
            if getattr(self, one) is not None and getattr(self, other) is None:
                raise PydanticCustomError(
                    "half_reading", "{one} says nothing without {other}; add {other}", {"field": one, "one": one, "other": other}
                )
        if self.step is not None and self.volts is not None:
            raise PydanticCustomError(
                "step_or_volts", "a reading has a step or volts, not both; keep the one that was set", {"field": "volts"}
            )
        return self


def _dropper_kind(value: Any) -> str:
    return "fitted" if isinstance(value, dict | Dropper) else "not fitted"


DropperOrNone = Annotated[
    Annotated[Dropper, Tag("fitted")] | Annotated[Literal["none"], Tag("not fitted")],
    Discriminator(_dropper_kind),
]


class TrialSettings(Part):
    """What was set for a trial; what is left out was as in the build."""

    pinion: Teeth | None = Field(None, title="Pinion", description="Teeth of the first driver.", examples=[10])
    dropper: DropperOrNone | None = Field(None, title="Dropper", description="The one tried, or none.", examples=["none"])
    decoder_settings: list[CvSetting] = Field(
        default=[], title="Decoder settings", description="Changed CVs.", examples=[[{"cv": 5, "value": 140}]],
    )
    feedback: Feedback | None = Field(None, title="Feedback", description="As set.", examples=[{"on": False}])
    track: Voltage | None = Field(None, title="Track volts", description="When others than usual.", examples=["13 V"])


class Sign(StrEnum):
    """What a motor under feedback shows at the bench."""

    HUNTING = "hunting"
    SURGING = "surging"
    STALLS = "stalls on the grade"
    JUMPS = "jumps at cut-off"
    EVEN = "even"


class TrialSeen(Part):
    """What was seen."""

    top_speed: Speed | None = Field(None, title="Top speed", description="Scale speed at step 126.", examples=["96 mph"])
    start_step: Step | None = Field(None, title="Start step", description="First step at which it moved off.", examples=[34])
    motor_current: Current | None = Field(None, title="Motor current", description="Average at full step.", examples=["180 mA"])
    dropper_temperature: Temperature | None = Field(
        None, title="Dropper temperature", description="After ten minutes.", examples=["62 degC"],
    )
    behaviour: Prose | None = Field(None, title="Behaviour", description="In words.", examples=["Hunts below step 10."])
    signs: list[Sign] = Field(
        default=[], title="Signs", description="What feedback did; the sheet names the next setting to try from the last trial that has some.",
        examples=[["surging", "jumps at cut-off"]],
    )


class Trial(Part):
    """One attempt, kept or not."""

    id: Slug = Field(title="Name", description="Short name readings can refer to.", examples=["ten-tooth"])
    date: PlainDate | None = Field(None, title="Date", description="Day of the attempt.", examples=["2026-03-04"])
    change: Prose = Field(title="Change", description="What was changed.", examples=["Ten-tooth pinion instead of twelve"])
    settings: TrialSettings | None = Field(None, title="Settings", description="What was set.", examples=[{"pinion": 10}])
    seen: TrialSeen | None = Field(None, title="Seen", description="What was seen.", examples=[{"top_speed": "96 mph"}])
    verdict: Literal["kept", "rejected", "undecided"] = Field(title="Verdict", description="What became of it.", examples=["rejected"])
    because: Prose | None = Field(None, title="Because", description="The reason.", examples=["Still half as fast again as the prototype."])


class Record(Part):
    """One locomotive's conversion."""

    format: Literal[1] = Field(title="Format", description="Version of this format; always the first key.", examples=[1])
    title: Line = Field(title="Title", description="What the sheet is called.", examples=["Harbour branch 0-6-2 tank"])
    number: Line | None = Field(None, title="Sheet number", description="The club's number for the sheet.", examples=["SLR-007"])
    revision: Line | None = Field(None, title="Revision", description="The builder's own revision letter.", examples=["B"])
    status: Status = Field(title="Status", description="How far it has come.", examples=["running"])
    aside_because: Prose | None = Field(
        None, title="Set aside because", description="Why it was given up; needed when set aside.", examples=["The worm wheel is cracked."]
    )
    route: list[Route] = Field(
        default=[], title="Route", description="What the conversion consists of.", examples=[["motor swap", "dropper"]],
    )
    builder: Line | None = Field(
        None, title="Builder", description="Group or role rather than a private name.", examples=["Workshop group"],
    )
    dates: Dates | None = Field(None, title="Dates", description="The days that matter.", examples=[{"started": "2026-03-02"}])
    bench_time: Time | None = Field(None, title="Time on the bench", description="Working time so far.", examples=["6.5 h"])
    currency: Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")] | None = Field(
        None, title="Currency", description="Three-letter code (ISO 4217) of the prices; else the club's.", examples=["GBP"]
    )
    formerly: list[Slug] = Field(
        default=[], title="Formerly", description="Earlier file names; each forwards to this sheet.", examples=[["old-tank"]],
    )
    summary: Prose | None = Field(
        None, title="Summary", description="Two sentences for the head and the index.", examples=["Open-frame motor out, 12 V can in."],
    )
    prototype: Prototype | None = Field(None, title="Prototype", description="The full-size locomotive.")
    model: Model | None = Field(None, title="Model", description="The model as it stands on the rails.")
    gear_train: GearTrain | None = Field(None, title="Gear train", description="From motor to axle.")
    motor: Motor | None = Field(None, title="Motor", description="As built.")
    mechanism: Mechanism | None = Field(None, title="Mechanism", description="Drag of the works.")
    flywheels: list[Flywheel] = Field(default=[], title="Flywheels", description="On the motor shaft.")
    decoder: Decoder | None = Field(None, title="Decoder", description="As built.")
    feedback: Feedback | None = Field(None, title="Feedback", description="Back-EMF feedback as set.")
    supply: Supply | None = Field(None, title="Supply", description="What is on the rails.")
    dropper: Dropper | None = Field(None, title="Dropper", description="In series with the motor.")
    target: Target | None = Field(None, title="Target", description="What the builder wants.")
    train: Train | None = Field(None, title="Train", description="What it pulls.")
    surroundings: Surroundings | None = Field(None, title="Surroundings", description="Temperatures around the works.")
    space: Space | None = Field(None, title="Space", description="Room for parts.")
    lamps: list[Lamp] = Field(default=[], title="Lamps", description="Lamp circuits.")
    sound: Sound | None = Field(None, title="Sound", description="Speakers.")
    stay_alive: StayAlive | None = Field(None, title="Stay-alive", description="Store for dirty track.")
    pinions_on_hand: list[Gear] = Field(default=[], title="Pinions on hand", description="What could be fitted instead.")
    parts: list[PartLine] = Field(default=[], title="Parts", description="What the conversion takes.")
    tools: list[Line] = Field(default=[], title="Tools", description="What must be at hand.", examples=[["25 W iron", "multimeter"]])
    steps: list[BuilderStep] = Field(default=[], title="Steps", description="The builder's own steps.")
    pictures: list[Picture] = Field(default=[], title="Pictures", description="With what they show.")
    before: Before | None = Field(None, title="Before", description="The locomotive as found.")
    trials: list[Trial] = Field(default=[], title="Trials", description="Every attempt, kept or not.")
    reading_conditions: ReadingConditions | None = Field(
        None, title="Reading conditions", description="What holds for every reading that does not say otherwise."
    )
    readings: list[Reading] = Field(default=[], title="Readings", description="What the bench said.")
    address: Annotated[int, Field(strict=True, ge=1, le=10239)] | None = Field(
        None, title="Address", description="Number the locomotive is called by; else taken from CV1, or CV17 and CV18, as set.",
        examples=[1234],
    )
    decoder_settings: list[CvSetting] = Field(default=[], title="Decoder settings", description="CVs as set.")
    notes: Prose | None = Field(None, title="Notes", description="Anything else, in Markdown.")

    @model_validator(mode="after")
    def _consistent(self) -> Record:
        if self.status is Status.SET_ASIDE and not self.aside_because:
            raise PydanticCustomError(
                "reason_wanted", "a build set aside needs aside_because; say why, it spares the next member the try",
                {"field": "status"},
            )
        _trials_known(self)
        _pinion_fits(self)
        return self


def _trials_known(record: Record) -> None:
    known = [trial.id for trial in record.trials]
    for index, name in enumerate(known):
        if name in known[:index]:
            raise PydanticCustomError(
                "trial_twice", "trial {name} stands twice; give each its own name", {"field": f"trials.{index}.id", "name": name}
            )
    for index, reading in enumerate(record.readings):
        if reading.trial is not None and reading.trial not in known:
            raise PydanticCustomError(
                "unknown_trial", "no trial is called {name}; known: {known}",
                {"field": f"readings.{index}.trial", "name": reading.trial, "known": ", ".join(known) or "none"},
            )


def _pinion_fits(record: Record) -> None:
    """Shaft and bore must agree: a press fit stands on a few hundredths, an adhesive one on a tenth."""
    if record.motor is None or record.motor.shaft is None or record.gear_train is None:
        return
    first = record.gear_train.stages[0]
    pinion = first.driver if isinstance(first, SpurStage) else None
    if not isinstance(pinion, Gear) or pinion.bore is None:
        return
    shaft, bore = record.motor.shaft.value, pinion.bore.value
    slack = {"press": (-0.05e-3, 0.0), "grub screw": (0.0, 0.1e-3), "adhesive": (0.0, 0.1e-3)}
    low, high = slack.get(pinion.fit or "", (-0.05e-3, 0.1e-3))
    if not low - 1e-9 <= bore - shaft <= high + 1e-9:
        raise PydanticCustomError(
            "bore", "shaft {shaft} and bore {bore} disagree; the bore should be the shaft's size (press fit: up to 0.05 mm less)",
            {"field": "gear_train.stages.0.driver.bore", "shaft": record.motor.shaft.text, "bore": pinion.bore.text},
        )


class Wheel(StockPart):
    """One pair of driving wheels."""

    stock_section: ClassVar[str] = "wheels"

    tread_diameter: Length | None = Field(None, title="Tread diameter", description="Over the tread.", examples=["20.3 mm"])
    axle: Length | None = Field(None, title="Axle", description="Diameter of the axle.", examples=["3.17 mm"])
    insulated: Literal["none", "one side", "both sides"] | None = Field(
        None, title="Insulated", description="Which side is insulated from the axle.", examples=["one side"]
    )


class Sundry(StockPart):
    """Anything else with a price."""

    stock_section: ClassVar[str] = "sundries"


class Stock(Part):
    """One stock file: parts by section and name."""

    format: Literal[1] = Field(title="Format", description="Version of this format.", examples=[1])
    motors: dict[Slug, Motor] = Field(default={}, title="Motors", description="By name.")
    decoders: dict[Slug, Decoder] = Field(default={}, title="Decoders", description="By name.")
    gears: dict[Slug, Gear] = Field(default={}, title="Gears", description="By name.")
    resistors: dict[Slug, Resistor] = Field(default={}, title="Resistors", description="By name.")
    diodes: dict[Slug, Diode] = Field(default={}, title="Diodes", description="By name.")
    speakers: dict[Slug, Speaker] = Field(default={}, title="Speakers", description="By name.")
    wheels: dict[Slug, Wheel] = Field(default={}, title="Wheels", description="By name.")
    capacitors: dict[Slug, Capacitor] = Field(default={}, title="Capacitors", description="By name.")
    leds: dict[Slug, Led] = Field(default={}, title="LEDs", description="By name.")
    sundries: dict[Slug, Sundry] = Field(default={}, title="Sundries", description="By name.")
