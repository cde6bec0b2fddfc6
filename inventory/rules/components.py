"""The main components of the ledger, and what each weighs in the originality."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Component:
    code: str
    title: str
    weight: int  # share in the originality, the lot's policy (common practice, no source)


COMPONENTS: tuple[Component, ...] = (
    Component("engine", "Engine", 20),
    Component("transmission", "Transmission", 12),
    Component("rear_axle", "Rear axle", 8),
    Component("body_shell", "Body shell", 18),
    Component("outer_panels", "Outer panels", 10),
    Component("paint", "Paint", 10),
    Component("interior_trim", "Interior trim", 10),
    Component("glass", "Glass", 4),
    Component("wheels", "Wheels", 4),
    Component("instruments", "Instruments", 4),
)
COMPONENT_TITLES: dict[str, str] = {component.code: component.title for component in COMPONENTS}
