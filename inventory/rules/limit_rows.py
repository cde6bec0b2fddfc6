"""The table of published limits: what each reading may be, by which section, and how sure the figure is.

Source: 49 CFR Part 570, criteria for the states' inspections of vehicles in use, which bind nobody by themselves:
subpart A (570.1-570.10) up to 10,000 lb GVWR, subpart B (570.51-570.63) above. It covers brakes, steering,
suspension, tyres and wheels only; the few rows from elsewhere name their source. `limits.py` judges by it.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

THIRTY_SECONDS = "32nds of an inch"
INCHES = "inches"
PERCENT = "%"
FEET = "feet"
YEARS = "years"
APPLICATIONS = "full applications"


class System(StrEnum):
    BRAKES = "brakes"
    STEERING = "steering"
    SUSPENSION = "suspension"
    TYRES = "tyres and wheels"
    ENGINE = "engine"
    GLASS = "glass"


STOPS_DRIVES = frozenset({System.BRAKES, System.STEERING, System.TYRES})
"""An open flag on one of these stops road tests and test drives until the owner clears it."""


class Beyond(StrEnum):
    """On which side of its limit a reading is flagged."""

    BELOW = "below"
    ABOVE = "above"
    FROM = "at or above"


class Known(StrEnum):
    """How sure the figure is; the value is shown with the limit."""

    READ = "as printed in the rule"
    COPY = "as printed in a state's copy of the rule"
    MEMORY = "not yet checked against the rule"
    ADVICE = "published advice, not law"
    PRACTICE = "common practice, no published rule"


@dataclass(frozen=True)
class Sizes:
    """A range of diameters in inches; `from_low` counts the low end in and the high end out, else the reverse."""

    low: int
    high: int | None = None
    from_low: bool = False

    def holds(self, size: Fraction) -> bool:
        if self.from_low:
            return size >= self.low and (self.high is None or size < self.high)
        return size > self.low and (self.high is None or size <= self.high)


@dataclass(frozen=True)
class Row:
    """One figure of a limit and the vehicles, tyres or parts it is for. None: it makes no difference."""

    limit: Fraction
    section: str
    known: Known
    heavy: bool | None = False  # over 10,000 lb GVWR
    front: bool | None = None
    bonded: bool | None = None
    sizes: Sizes | None = None

    @property
    def cited(self) -> str:
        return f"49 CFR {self.section}" if self.section[0].isdigit() else self.section


@dataclass(frozen=True, kw_only=True)
class Limit:
    """A reading and its figures. With `of_maker` a figure is a multiple of the maker's, not one of its own."""

    wording: str
    unit: str
    beyond: Beyond
    system: System
    rows: tuple[Row, ...]
    asks: str = ""  # what tells its rows apart
    of_maker: bool = False
    either_way: bool = False  # in or out alike: only the size of the reading counts
    setting: bool = False  # the lot may set its own figure
    note: str = ""


@dataclass(frozen=True)
class Criterion:
    """What is looked at without a figure."""

    wording: str
    system: System
    section: str
    known: Known
    heavy_section: str  # over 10,000 lb GVWR
    heavy_known: Known = Known.READ


def _lash(section: str, *, heavy: bool) -> tuple[Row, ...]:
    """16 in or less, 18, 20, 22: between them the rule is silent, and the smaller row is used (our choice)."""
    steps = ((0, 18, Fraction(2)), (18, 20, Fraction(9, 4)), (20, 22, Fraction(5, 2)), (22, None, Fraction(11, 4)))
    return tuple(
        Row(most, section, Known.READ, heavy=heavy, sizes=Sizes(low, high, from_low=True)) for low, high, most in steps
    )


LIMITS: dict[str, Limit] = {
    "pedal_travel": Limit(
        wording="Brake pedal travel used, of the travel from free to floor",
        unit=PERCENT,
        beyond=Beyond.ABOVE,
        system=System.BRAKES,
        rows=(
            Row(Fraction(80), "570.5(c)", Known.COPY),
            Row(Fraction(80), "570.55(c)", Known.READ, heavy=True),
        ),
        note="Engine running if assisted; over 10,000 lb: 50 lb on the pedal, and not asked where the maker "
        "designed for more travel.",
    ),
    "stopping_distance": Limit(
        wording="Stopping distance from 20 mph in a lane 12 ft wide",
        unit=FEET,
        beyond=Beyond.ABOVE,
        system=System.BRAKES,
        rows=(Row(Fraction(25), "570.5(d)", Known.MEMORY),),
    ),
    "brake_imbalance": Limit(
        wording="Difference of brake force from left to right on one axle",
        unit=PERCENT,
        beyond=Beyond.ABOVE,
        system=System.BRAKES,
        rows=(Row(Fraction(25), "570.5(d)", Known.MEMORY),),
    ),
    "drum_diameter": Limit(
        wording="Inner diameter of the brake drum",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.BRAKES,
        of_maker=True,
        rows=(
            Row(Fraction(1), "570.5", Known.COPY),
            Row(Fraction(1), "570.59(b)", Known.READ, heavy=True),
        ),
        note="Cast on the drum (usual since 1 January 1971), else from the maker's manual.",
    ),
    "rotor_thickness": Limit(
        wording="Thickness of the brake disc",
        unit=INCHES,
        beyond=Beyond.BELOW,
        system=System.BRAKES,
        of_maker=True,
        rows=(
            Row(Fraction(1), "570.5", Known.COPY),
            Row(Fraction(1), "570.59(b)", Known.READ, heavy=True),
        ),
        note="Cast on the disc (usual since 1 January 1971), else from the maker's manual.",
    ),
    "lining_thickness": Limit(
        wording="Thickness of the lining or pad over its fastener, or over the shoe if bonded",
        unit=THIRTY_SECONDS,
        beyond=Beyond.BELOW,
        system=System.BRAKES,
        asks="whether the lining is bonded or riveted",
        rows=(
            Row(Fraction(1), "570.5", Known.COPY),
            Row(Fraction(1), "570.59(c)", Known.READ, heavy=True, bonded=False),
            Row(Fraction(2), "570.59(c)", Known.READ, heavy=True, bonded=True),
        ),
    ),
    "vacuum_reserve": Limit(
        wording="Brake applications in reserve with the engine off, vacuum assist",
        unit=APPLICATIONS,
        beyond=Beyond.BELOW,
        system=System.BRAKES,
        rows=(Row(Fraction(1), "570.56", Known.READ, heavy=True),),
        note="50 lb on the pedal.",
    ),
    "steering_lash": Limit(
        wording="Free play at the rim of the steering wheel",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.STEERING,
        asks="the diameter of the steering wheel",
        rows=(*_lash("570.7(a)", heavy=False), *_lash("570.60(a)", heavy=True)),
        note="Wheels straight, engine running where the steering is assisted. Between the printed diameters the "
        "rule is silent; the smaller wheel's figure is used.",
    ),
    "linkage_play": Limit(
        wording="Free play of the steering linkage at the tyre tread",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.STEERING,
        asks="the size of the rim",
        rows=(
            Row(Fraction(1, 4), "570.7(b)", Known.READ),
            Row(Fraction(1, 4), "570.60(b)", Known.READ, heavy=True, sizes=Sizes(0, 16)),
            Row(Fraction(3, 8), "570.60(b)", Known.READ, heavy=True, sizes=Sizes(16, 18)),
            Row(Fraction(1, 2), "570.60(b)", Known.READ, heavy=True, sizes=Sizes(18)),
        ),
        note="Front end raised so that the ball joints are loaded, wheel bearings adjusted.",
    ),
    "toe": Limit(
        wording="Toe, in or out",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.STEERING,
        of_maker=True,
        either_way=True,
        rows=(
            Row(Fraction(3, 2), "570.7(d)", Known.READ),
            Row(Fraction(3, 2), "570.60(d)", Known.READ, heavy=True),
        ),
        note="One and a half times the maker's service figure.",
    ),
    "tread_depth": Limit(
        wording="Tread depth in two adjacent major grooves at three places round the tyre",
        unit=THIRTY_SECONDS,
        beyond=Beyond.BELOW,
        system=System.TYRES,
        asks="whether it is a front tyre",
        rows=(
            Row(Fraction(2), "570.9(a)", Known.COPY),
            Row(Fraction(4), "570.62(a)", Known.READ, heavy=True, front=True),
            Row(Fraction(2), "570.62(a)", Known.READ, heavy=True, front=False),
        ),
    ),
    # Subpart B knows no runout: 570.63 asks only for sound wheels and tight nuts.
    "wheel_runout_lateral": Limit(
        wording="Lateral runout at the bead seat, total",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.TYRES,
        rows=(Row(Fraction(1, 8), "570.10(b)", Known.READ),),
    ),
    "wheel_runout_radial": Limit(
        wording="Radial runout at the bead seat, total",
        unit=INCHES,
        beyond=Beyond.ABOVE,
        system=System.TYRES,
        rows=(Row(Fraction(1, 8), "570.10(b)", Known.READ),),
    ),
    # The rule knows no age. British rubber makers advise replacement at 10 years, and no spare of over 6.
    "tyre_age": Limit(
        wording="Age of the tyre from its week of make",
        unit=YEARS,
        beyond=Beyond.FROM,
        system=System.TYRES,
        setting=True,
        rows=(Row(Fraction(10), "advice of the British rubber makers", Known.ADVICE, heavy=None),),
    ),
    "spare_age": Limit(
        wording="Age of a spare that is to be put into service",
        unit=YEARS,
        beyond=Beyond.ABOVE,
        system=System.TYRES,
        setting=True,
        rows=(Row(Fraction(6), "advice of the British rubber makers", Known.ADVICE, heavy=None),),
    ),
    "compression_spread": Limit(
        wording="Lowest compression of the cylinders, of the highest",
        unit=PERCENT,
        beyond=Beyond.BELOW,
        system=System.ENGINE,
        setting=True,
        rows=(Row(Fraction(75), "one maker's manuals", Known.ADVICE, heavy=None),),
        note="Warm, throttle open, all plugs out, 4 to 5 strokes; another maker accepts 70 %.",
    ),
    "leak_down": Limit(
        wording="Leak-down of a cylinder",
        unit=PERCENT,
        beyond=Beyond.ABOVE,
        system=System.ENGINE,
        setting=True,
        rows=(Row(Fraction(20), "shop custom", Known.PRACTICE, heavy=None),),
    ),
    "glass_light": Limit(
        wording="Light let through by glass in a driving position",
        unit=PERCENT,
        beyond=Beyond.BELOW,
        system=System.GLASS,
        rows=(Row(Fraction(70), "571.205", Known.MEMORY, heavy=None),),
        note="Asked of new glass; the states' own rules for vehicles in use differ.",
    ),
}

CRITERIA: dict[str, Criterion] = {
    "brake_lamp": Criterion(
        "The brake failure lamp works, where one was fitted as built",
        System.BRAKES, "570.5(a)", Known.COPY, "570.55(a)",
    ),
    "brake_integrity": Criterion(
        "With 125 lb on the pedal for 10 seconds the lamp stays out, nothing fails and the pedal does not sink",
        System.BRAKES, "570.5(b)", Known.COPY, "570.55(b)",
    ),
    "brake_hoses": Criterion(
        "Brake hoses and lines without crack, chafe, flattening, leak, or contact with body or chassis",
        System.BRAKES, "570.5", Known.COPY, "570.55(d)",
    ),
    "free_turning": Criterion(
        "The steering turns from lock to lock without bind or jam", System.STEERING, "570.7(c)", Known.READ, "570.60(c)"
    ),
    "suspension": Criterion(
        "Ball-joint seals whole, nothing bent, springs unbroken and not stretched by spacers, bushings in place",
        System.SUSPENSION, "570.8(a)", Known.COPY, "570.61(a)",
    ),
    "dampers": Criterion(
        "No oil from the dampers' seals, mountings tight", System.SUSPENSION, "570.8(b)", Known.COPY, "570.61(b)"
    ),
    "tyre_match": Criterion(
        "Same size, construction and profile of tyre on one axle",
        System.TYRES, "570.9(b)", Known.COPY, "570.62", Known.MEMORY,
    ),
    "tyre_condition": Criterion(
        "No chunk, bump, knot or bulge, no cord to be seen, also not in a probed cut, and no mark against road use",
        System.TYRES, "570.9(c) and (d)", Known.COPY, "570.62", Known.MEMORY,
    ),
    "wheel_sound": Criterion(
        "No crack, stretched bolt hole or weld repair of a wheel", System.TYRES, "570.10(a)", Known.MEMORY, "570.63(a)"
    ),
    "wheel_nuts": Criterion(
        "All wheel nuts and bolts there and tight", System.TYRES, "570.10(c)", Known.READ, "570.63(c)"
    ),
}  # fmt: skip
