"""The database refuses figures that cannot be, also when Python is bypassed."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from inventory.models import Consignment, DrivelineFigures, ElectricFigures, EngineFigures, TyreRecord
from inventory.models.figures import Statement
from tests import build

pytestmark = pytest.mark.django_db


def row(model: type[Statement], stay: Consignment, at: datetime, **given: Any) -> Statement:
    more = {"position": "left_front"} if model is TyreRecord else {}
    return model(**{"vehicle": stay.vehicle, "basis": "seen", "by": "x", "at": at, **more, **given})


@pytest.mark.parametrize(
    ("model", "given"),
    [
        (TyreRecord, {"position": "roof"}), (TyreRecord, {"basis": "guessed"}),
        (EngineFigures, {"basis": ""}), (EngineFigures, {"bore_in": Decimal(9)}),
        (EngineFigures, {"bore_in": Decimal("0.9")}), (EngineFigures, {"stroke_in": Decimal(11)}),
        (EngineFigures, {"cylinders": 0}), (EngineFigures, {"cylinders": 17}),
        (EngineFigures, {"stated_displacement": Decimal(350)}), (EngineFigures, {"displacement_unit": "cc"}),
        (EngineFigures, {"stated_displacement": Decimal(350), "displacement_unit": "litre"}),
        (EngineFigures, {"stated_displacement": Decimal(350), "displacement_unit": "gallon"}),
        (EngineFigures, {"vacuum_inhg": Decimal("30.1")}), (EngineFigures, {"carburettor_cfm": 19}),
        (EngineFigures, {"redline_rpm": 15001}), (DrivelineFigures, {"axle_ratio": Decimal("1.4")}),
        (DrivelineFigures, {"top_gear_ratio": Decimal("3.1")}), (DrivelineFigures, {"driven_axle": "middle"}),
        (DrivelineFigures, {"claimed_top_mph": 301}), (DrivelineFigures, {"redline_rpm": 499}),
        (DrivelineFigures, {"basis": "guessed"}), (ElectricFigures, {"basis": "guessed"}),
        (ElectricFigures, {"system_volts": 24}), (ElectricFigures, {"rest_volts": Decimal("20.1")}),
        (ElectricFigures, {"rest_hours": Decimal(2)}), (ElectricFigures, {"charging_volts": Decimal(21)}),
        (ElectricFigures, {"fluid_kind": "water"}), (ElectricFigures, {"fluid_colour": "pink"}),
    ],
)  # fmt: skip
def test_impossible_figure_is_refused(at: datetime, model: type[Statement], given: dict[str, Any]) -> None:
    made = row(model, build.consignment(at=at), at, **given)
    with pytest.raises(IntegrityError), transaction.atomic():
        model._default_manager.bulk_create([made])
    with pytest.raises(ValidationError):
        made.full_clean()


@pytest.mark.parametrize(
    ("model", "given"),
    [
        (TyreRecord, {"size": "x" * 80, "tin": "?" * 60}),
        (EngineFigures, {"bore_in": Decimal("1.0000"), "stroke_in": Decimal("10.0000"), "cylinders": 16}),
        (EngineFigures, {"stated_displacement": Decimal("30000.00"), "displacement_unit": "cc"}),
        (DrivelineFigures, {"axle_ratio": Decimal("10.000"), "top_gear_ratio": Decimal("0.300")}),
        (ElectricFigures, {"rest_volts": Decimal("0.00"), "rest_hours": Decimal("9999.0"), "system_volts": 6}),
    ],
)
def test_figures_at_their_ends_are_kept_as_they_are(
    at: datetime, model: type[Statement], given: dict[str, Any]
) -> None:
    made = row(model, build.consignment(at=at), at, **given)
    made.full_clean()
    made.save()
    kept = model._default_manager.get()
    assert {name: getattr(kept, name) for name in given} == given
    assert str(kept)
