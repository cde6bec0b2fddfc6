"""What the catalogue is made of: features of a vehicle, checks, photos wanted, stations."""

from dataclasses import dataclass

from django.db.models import TextChoices

from inventory.rules.words import BuildClass

# Units of readings that no published limit judges; the others are those of `limit_rows`.
VOLTS = "volts"
PSI = "psi"
FAHRENHEIT = "°F"
MILS = "mils"
INCHES_OF_MERCURY = "inHg"


class Feature(TextChoices):
    """What a vehicle has or lacks, and so which checks and photos it is asked for. What nobody said is asked."""

    SOFT_TOP = "soft_top", "soft top"
    REMOVABLE_TOP = "removable_top", "removable hardtop or roof panels"
    PICKUP_BED = "pickup_bed", "pickup bed"
    TRUNK = "trunk", "trunk or cargo floor"
    DUAL_TANKS = "dual_tanks", "second fuel tank"
    BODY_ON_FRAME = "body_on_frame", "separate frame"
    GLASS_FIBRE_BODY = "glass_fibre_body", "glass-fibre body"
    WOOD_IN_BODY = "wood_in_body", "wood in the body's frame"
    MECHANICAL_BRAKES = "mechanical_brakes", "mechanical brakes, by rods or cables"
    FRONT_DISCS = "front_discs", "front disc brakes"
    REAR_DISCS = "rear_discs", "rear disc brakes"
    POWER_BRAKES = "power_brakes", "power brakes"
    POWER_STEERING = "power_steering", "power steering"
    AUTOMATIC = "automatic", "automatic transmission"
    MANUAL = "manual", "manual transmission with clutch"
    FOUR_WHEEL_DRIVE = "four_wheel_drive", "four-wheel drive"
    CARBURETTOR = "carburettor", "carburettor"
    LIQUID_COOLED = "liquid_cooled", "liquid-cooled engine"
    AIR_CONDITIONING = "air_conditioning", "air conditioning"


@dataclass(frozen=True, kw_only=True)
class Check:
    """One thing that is looked at: it moves the price or hurts somebody."""

    code: str  # station.what: stored with each result, so it never changes its meaning
    wording: str
    weight: int  # share in the condition, 1 to 10: the lot's policy (common practice, no source)
    hint: str = ""  # how to look, and what counts as a fault
    unit: str = ""  # of its reading, where it has one
    limit: str = ""  # of LIMITS, which judges the reading
    criterion: str = ""  # of CRITERIA, which a failed grade does not meet
    structural: bool = False  # of what carries: its rust, cracks and repairs cap the condition
    twin: str = ""  # the same check on the other side
    needs: frozenset[Feature] = frozenset()  # not asked of a vehicle known to lack one of these
    unless: frozenset[Feature] = frozenset()  # not asked of a vehicle known to have one of these
    not_for: frozenset[BuildClass] = frozenset()


@dataclass(frozen=True)
class Shot:
    """A photo that a station wants."""

    code: str
    title: str
    needs: frozenset[Feature] = frozenset()  # not wanted of a vehicle known to lack one of these


@dataclass(frozen=True, kw_only=True)
class Station:
    """What one person looks at in one go: a quarter of an hour, so 14 checks at most."""

    code: str
    title: str
    hint: str
    checks: tuple[Check, ...]
    caution: str = ""
    shots: tuple[Shot, ...]
