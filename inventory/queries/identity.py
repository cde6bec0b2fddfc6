"""The numbers of one vehicle, what is still open about them, and what the owner has resolved."""

from dataclasses import dataclass

from inventory.models import IdentityNumber, IdentityResolution, Vehicle
from inventory.rules import titles


@dataclass(frozen=True, kw_only=True)
class IdentityStanding:
    """`open` is what listing waits for: the question, unless the owner has resolved it for these very numbers."""

    numbers: list[IdentityNumber]
    question: str
    may_be_resolved: bool
    digest: str
    resolution: IdentityResolution | None

    @property
    def open(self) -> str:
        return "" if self.resolution else self.question


def identity_of(vehicle: Vehicle) -> IdentityStanding:
    numbers = list(vehicle.identity_numbers.order_by("pk"))
    seen = [titles.NumberSeen(number.kind, number.value, number.basis) for number in numbers]
    question = titles.identity_question(seen, serial=vehicle.serial)
    may_be_resolved = titles.may_be_resolved(seen, serial=vehicle.serial)
    digest = titles.as_they_stand(seen, serial=vehicle.serial)
    word = IdentityResolution.objects.filter(vehicle=vehicle, numbers_digest=digest).order_by("-pk").first()
    return IdentityStanding(
        numbers=numbers, question=question, may_be_resolved=may_be_resolved, digest=digest,
        resolution=word if may_be_resolved else None,
    )  # fmt: skip
