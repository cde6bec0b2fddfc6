"""The main components of a vehicle: the lines of the ledger, and what each weighs in the originality."""

from dataclasses import dataclass

from inventory.rules.catalogue.parts import Feature
from inventory.rules.words import Basis

DATA_PLATE = "data_plate"


@dataclass(frozen=True)
class Component:
    code: str
    title: str
    weight: int  # share in the originality, the lot's policy (common practice, no source)
    hint: str = ""  # where its number and date stand, and what to look for
    optional: bool = False  # many vehicles never had one
    belongs_to: frozenset[Feature] = frozenset()  # a vehicle known to lack all of these never had one


COMPONENTS: tuple[Component, ...] = (
    Component("frame", "Frame", 7, "stamp on a side rail; welds, plates and stretches that no factory made"),
    Component(
        "body_shell", "Body shell", 12, "body number, plate and its rivets; cowl, floors and pillars of one body"
    ),
    Component("hood", "Hood", 2, "stamped skin and braces, hinges, latch"),
    Component("front_fenders", "Front fenders", 3, "inner lips and bolt holes, maker's marks, old colour underneath"),
    Component("doors", "Doors", 3, "shells, hinges, date codes inside the trim panels", optional=True),
    Component("rear_quarters", "Rear quarters", 3, "factory seams and spot welds, skins laid over, patches"),
    Component("trunk_lid", "Trunk lid or tailgate", 2, "stamped skin, hinges, lettering", optional=True),
    Component("paint", "Paint and colour", 8, "colour on the plate against the colour under trim and inside the trunk"),
    Component("engine", "Engine block and number", 15, "casting number, casting date, and the stamp on its pad"),
    Component("heads", "Cylinder heads", 4, "casting numbers and dates; both alike on a V engine"),
    Component("induction", "Carburetors or injection", 3, "tag or stamp with its list number, intake casting"),
    Component("ignition", "Ignition", 2, "distributor or magneto number and date, coil"),
    Component("cooling", "Cooling", 1, "radiator tag, water pump casting, fan"),
    Component("fuel_system", "Fuel system and tanks", 2, "tank, sender, pump and lines"),
    Component("transmission", "Transmission", 7, "case casting, tag or stamp, and the last digits of the serial"),
    Component(
        "transfer_case", "Transfer case", 2, "case casting and tag", optional=True,
        belongs_to=frozenset({Feature.FOUR_WHEEL_DRIVE}),
    ),
    Component("front_axle", "Front axle or crossmember", 2, "beam, spindles, axle stamp or casting"),
    Component("rear_axle", "Rear axle and ratio", 5, "tag or stamp, ratio counted by hand, casting date"),
    Component("suspension", "Suspension", 2, "springs and their codes, dampers, arms"),
    Component("steering", "Steering", 1, "box or rack casting, column, wheel"),
    Component("front_brakes", "Front brakes", 2, "drums or discs as built, backing plates, calipers", optional=True),
    Component("rear_brakes", "Rear brakes", 1, "drums or discs as built, backing plates"),
    Component("wheels", "Wheels", 2, "size and date stamped in the rim, caps"),
    Component("dash", "Dash and instruments", 2, "dash panel, faces, odometer, switches, radio"),
    Component("interior_trim", "Seats and trim", 3, "frames, pattern and grain of the cover, panels, carpet"),
    Component(
        "top", "Top", 1, "bows, frame, cover; removable top and its number", optional=True,
        belongs_to=frozenset({Feature.SOFT_TOP, Feature.REMOVABLE_TOP}),
    ),
    Component("glass", "Glass", 1, "maker's mark and date code of each pane", optional=True),
    Component("badges", "Badges and emblems", 2, "pins and holes; an emblem proves nothing about what is behind it"),
)  # fmt: skip

# Components of earlier versions of this table that have no successor of the same meaning: their lines stay readable,
# and a policy stored with them goes on weighing them.
EARLIER_COMPONENTS: tuple[Component, ...] = (
    Component("outer_panels", "Outer panels", 0),
    Component("instruments", "Instruments", 0),
)

COMPONENT_OF: dict[str, Component] = {component.code: component for component in COMPONENTS}
COMPONENT_TITLES: dict[str, str] = {component.code: component.title for component in COMPONENTS}
ALL_TITLES: dict[str, str] = {**COMPONENT_TITLES, **{known.code: known.title for known in EARLIER_COMPONENTS}}
CODED_TITLES: dict[str, str] = {DATA_PLATE: "Data plate", **COMPONENT_TITLES}  # what a decoder entry may be about

EMBLEM_TOLD = "An emblem proves nothing about the engine behind it: read the number off the block."


def advice(component: str, *, basis: str, number: str) -> str:
    """What to tell whoever wrote this line. It blocks nothing: most engines are first identified by a badge."""
    return EMBLEM_TOLD if component == "engine" and basis == Basis.SEEN and not number.strip() else ""
