"""Vehicles, consignors and consignments."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Shown, Text, Version, Word
from inventory.models import Consignment, Consignor, Vehicle
from inventory.rules.states import State, next_states
from inventory.rules.words import BuildClass, IdentityKind, OdometerStatus, SerialKind, TitleBrand

MOST_MILES = 2_000_000


class Year(serializers.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1886, max_value=2200, **kwargs)


class Miles(serializers.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=0, max_value=MOST_MILES, allow_null=True, **kwargs)


class VehicleShown(Shown):
    build_class = Word(BuildClass, allow_blank=True)
    title_brand = Word(TitleBrand, allow_blank=True)
    serial_kind = Word(SerialKind)

    class Meta:
        model = Vehicle
        fields = [
            "code", "year", "year_built", "make", "model", "trim", "body", "engine", "transmission", "color",
            "build_class", "title_brand", "serial", "serial_kind", "serial_reason", "created_at", "version",
        ]  # fmt: skip
        read_only_fields = fields


class VehicleBrief(Shown):
    class Meta:
        model = Vehicle
        fields = ["code", "year", "make", "model", "trim", "serial"]
        read_only_fields = fields


class ConsignorShown(Shown):
    email = serializers.CharField(read_only=True)  # empty where there is none

    class Meta:
        model = Consignor
        fields = ["code", "name", "email", "phone", "address", "created_at", "version"]
        read_only_fields = fields


class ConsignorBrief(Shown):
    class Meta:
        model = Consignor
        fields = ["code", "name"]
        read_only_fields = fields


class ConsignmentShown(Shown):
    state = Word(State)
    odometer_status = Word(OdometerStatus)
    vehicle = VehicleBrief()
    consignor = ConsignorBrief()
    ask = Amount(allow_null=True)
    may_become = serializers.SerializerMethodField(help_text="The states that the table of moves allows from here.")

    class Meta:
        model = Consignment
        fields = [
            "stock_number", "state", "may_become", "state_at", "state_by", "vehicle", "consignor", "ask", "booked_on",
            "arrived_on", "listed_on", "mileage", "odometer_status", "title_sent_on", "released_on", "signed_for_by",
            "note", "version",
        ]  # fmt: skip
        read_only_fields = fields

    def get_may_become(self, row: Consignment) -> list[str]:
        return [state.value for state in next_states(State(row.state))]


class _VehicleFacts(Given):
    year_built = Year(
        required=False, allow_null=True, help_text="Where it is known; `year` is the model year as titled."
    )
    trim = Text(60, required=False)
    body = Text(60, required=False)
    engine = Text(80, required=False)
    transmission = Text(60, required=False)
    color = Text(60, required=False)
    build_class = Word(BuildClass, required=False, allow_blank=True)
    title_brand = Word(TitleBrand, required=False, allow_blank=True)
    vin = Text(40, required=False, help_text="VIN or earlier serial, as read.")
    vin_reason = Text(200, required=False, help_text="Why the number is accepted although its check failed.")


class ArrivalGiven(_VehicleFacts):
    """An arriving vehicle, with a known consignor (`consignor`, their code) or a new one."""

    year = Year()
    make = Text(60)
    model = Text(60)
    vin_read_off = Word(IdentityKind, required=False)
    mileage = Miles(required=False)
    odometer_status = Word(OdometerStatus, required=False)
    arrived_on = Day(required=False, allow_null=True)
    booked_only = serializers.BooleanField(required=False)
    consignor = serializers.UUIDField(required=False)
    consignor_name = Text(120, required=False)
    consignor_email = serializers.EmailField(max_length=254, required=False, allow_blank=True)
    consignor_phone = Text(40, required=False)
    note = Text(5000, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "consignor" not in attrs and not attrs.get("consignor_name"):
            said = "Give the name of the consignor, or the code of one who is known."
            raise serializers.ValidationError({"consignor_name": said}, code="required")
        return attrs


class TradeGiven(_VehicleFacts):
    """The vehicle taken in trade: it becomes the lot's own."""

    year = Year()
    make = Text(60)
    model = Text(60)
    vin_read_off = Word(IdentityKind, required=False)
    mileage = Miles(required=False)
    odometer_status = Word(OdometerStatus, required=False)
    arrived_on = Day(required=False, allow_null=True)
    note = Text(5000, required=False)


class VehicleChange(_VehicleFacts):
    version = Version()
    year = Year(required=False)
    make = Text(60, required=False, allow_blank=False)
    model = Text(60, required=False, allow_blank=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "vin_reason" in attrs and "vin" not in attrs:
            raise serializers.ValidationError({"vin": "A reason belongs to a number: give both."}, code="required")
        return attrs


class ConsignmentChange(Given):
    version = Version()
    mileage = Miles(required=False)
    odometer_status = Word(OdometerStatus, required=False)
    arrived_on = Day(required=False, allow_null=True)
    note = Text(5000, required=False)


class ConsignorChange(Given):
    version = Version()
    name = Text(120, required=False, allow_blank=False)
    email = serializers.EmailField(max_length=254, required=False, allow_blank=True)
    phone = Text(40, required=False)
    address = Text(1000, required=False)
