"""Terms, charges and consent: recorded exactly, never edited."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import agreeing, charging, settling
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import Charge, Consent, Consignment, ConsignorPayment, Terms
from inventory.queries import facts
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def agree(stay: Consignment, *, by: Actor, at: datetime, version: int | None = None, **changes: Any) -> Terms:
    return agreeing.agree_terms(stay.pk, terms=build.terms(at, **changes), by=by, at=at, version=version)


def refusal_of(stay: Consignment, *, by: Actor, at: datetime, **changes: Any) -> Refused:
    with pytest.raises(Refused) as refusal:
        agree(stay, by=by, at=at, **changes)
    assert not Terms.objects.filter(consignment=stay).exists()
    return refusal.value


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.ON_LOT, at=at)


def test_terms_are_numbered_and_the_last_counts(owner: Actor, at: datetime, stay: Consignment) -> None:
    first, second = agree(stay, by=owner, at=at), agree(stay, by=owner, at=at, rate=Decimal(8))
    assert (first.number, second.number) == (1, 2)
    assert facts.terms_of(stay) == second


def test_tiers_are_kept_as_written_and_read_back(owner: Actor, at: datetime, stay: Consignment) -> None:
    tiers = ((Decimal("20000.00"), Decimal("10.5")), (None, Decimal(8)))
    row = agree(stay, by=owner, at=at, plan_kind="tiered", rate=None, tiers=tiers)
    row.refresh_from_db()
    assert facts.plan_of(row).tiers == tiers


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"rate": None}, "rate"),
        ({"rate": Decimal("9.1234")}, "rate"),
        ({"floor": Decimal("0.00")}, "floor"),
        ({"floor": Decimal("-1.00")}, "floor"),
        ({"starts_on": "after the end"}, ""),
        ({"signed_on": None}, ""),
        ({"signed_by": "  "}, ""),
        ({"signed_on": "tomorrow"}, "signed_on"),
        ({"title_protection": "prayer"}, "title_protection"),
        ({"lien_amount": Decimal(5)}, "lien_holder"),
        ({"lien_per_day": Decimal(5)}, "lien_holder"),
        ({"lien_good_until": "tomorrow"}, "lien_holder"),
        ({"lien_holder": "Tarn Valley"}, "lien_amount"),
        ({"lien_holder": "Tarn Valley", "lien_amount": Decimal(5)}, "lien_quoted_on"),
        ({"lien_holder": "Tarn Valley", "lien_amount": Decimal(5), "lien_quoted_on": "tomorrow"}, "lien_quoted_on"),
    ],
)
def test_terms_that_cannot_be_are_refused_on_their_field(
    owner: Actor, at: datetime, stay: Consignment, changes: dict[str, Any], field: str
) -> None:
    days = {"tomorrow": at.date() + timedelta(days=1), "after the end": at.date() + timedelta(days=121)}
    given = {name: days.get(value, value) if isinstance(value, str) else value for name, value in changes.items()}
    assert refusal_of(stay, by=owner, at=at, **given).field == field


def test_net_that_no_price_can_leave_is_refused(owner: Actor, at: datetime, stay: Consignment) -> None:
    refusal = refusal_of(
        stay, by=owner, at=at, plan_kind="guaranteed_net", rate=None, guaranteed_net=Decimal(40000),
        floor=Decimal("40000.01"), floor_kind="net",
    )  # fmt: skip
    assert refusal.code == "terms_net_out_of_reach"


def test_terms_without_floor_or_signature_are_kept(owner: Actor, at: datetime, stay: Consignment) -> None:
    row = agree(stay, by=owner, at=at, floor=None, signed_by="", signed_on=None)
    assert facts.floor_price(row, charges=[], on=at.date()) is None


def test_terms_are_the_owners_and_of_the_page_they_were_seen_on(
    owner: Actor, sales: Actor, at: datetime, stay: Consignment
) -> None:
    with pytest.raises(NotAllowed):
        agree(stay, by=sales, at=at)
    with pytest.raises(TooLate):
        agree(stay, by=owner, at=at, version=stay.version + 1)
    assert not Terms.objects.exists()


@pytest.mark.parametrize("state", [State.SOLD, State.SETTLED, State.RELEASED])
def test_terms_after_a_sale_are_refused(owner: Actor, at: datetime, state: State) -> None:
    stay = build.consignment(state, at=at)
    with pytest.raises(Refused) as refusal:
        agree(stay, by=owner, at=at)
    assert refusal.value.code == "too_late"


def charge(stay: Consignment, *, by: Actor, at: datetime, amount: str = "612.40", **more: Any) -> Charge:
    given = {"kind": "repair", "what": " work agreed ", "agreed_by": "Ada Fenwick", **more}
    return charging.add_charge(stay.pk, amount=Decimal(amount), by=by, at=at, **given)


def test_charges_of_both_parties_stand_apart(owner: Actor, at: datetime, stay: Consignment) -> None:
    charge(stay, by=owner, at=at)
    charge(stay, by=owner, at=at, amount="185.00")
    charge(stay, by=owner, at=at, amount="150.00", borne_by="lot")
    live = facts.live_charges(stay)
    assert [row.what for row in live] == ["work agreed"] * 3
    assert facts.charges_unpaid(stay, charges=live) == Decimal("797.40")  # 612.40 + 185.00


def test_charge_sent_twice_is_one(owner: Actor, at: datetime, stay: Consignment) -> None:
    key = uuid.uuid4()
    assert charge(stay, by=owner, at=at, client_key=key) == charge(stay, by=owner, at=at, client_key=key)
    assert Charge.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"agreed_by": " "}, "agreed_by"),
        ({"amount": "0.00"}, "amount"),
        ({"kind": "bribe"}, "kind"),
        ({"borne_by": "nobody"}, "borne_by"),
        ({"what": " "}, "what"),
    ],
)
def test_charge_that_cannot_be_is_refused(
    owner: Actor, at: datetime, stay: Consignment, more: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        charge(stay, by=owner, at=at, **more)
    assert refusal.value.field == field
    with pytest.raises(Refused) as refusal:
        charge(stay, by=owner, at=at, on=at.date() + timedelta(days=1))
    assert refusal.value.field == "on"
    assert not Charge.objects.exists()


def test_charge_set_aside_counts_no_more_and_both_rows_stay(owner: Actor, at: datetime, stay: Consignment) -> None:
    wrong = charge(stay, by=owner, at=at)
    aside = charging.set_charge_aside(wrong.pk, reason="billed twice", by=owner, at=at)
    assert (aside.sets_aside, aside.what) == (wrong, "billed twice")
    assert facts.live_charges(stay) == []
    assert Charge.objects.count() == 2
    with pytest.raises(Refused) as refusal:
        charging.set_charge_aside(wrong.pk, reason="again", by=owner, at=at)
    assert refusal.value.code == "done_already"
    with pytest.raises(NotFound):  # a row that sets aside is no charge of its own
        charging.set_charge_aside(aside.pk, reason="undo", by=owner, at=at)


def test_charge_is_not_set_aside_without_a_reason_or_by_sales(
    owner: Actor, sales: Actor, at: datetime, stay: Consignment
) -> None:
    row = charge(stay, by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        charging.set_charge_aside(row.pk, reason=" ", by=owner, at=at)
    assert refusal.value.field == "reason"
    with pytest.raises(NotAllowed):
        charging.set_charge_aside(row.pk, reason="no", by=sales, at=at)
    with pytest.raises(NotAllowed):
        charge(stay, by=sales, at=at)


def test_charges_are_closed_by_the_settlement_and_by_release(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    row = charge(stay, by=owner, at=at)
    build.pay_in_full(stay, at=at)
    settling.approve_settlement(stay.pk, by=owner, at=at)
    for closed in (stay, build.consignment(State.RELEASED, at=at)):
        with pytest.raises(Refused) as refusal:
            charge(closed, by=owner, at=at)
        assert refusal.value.code == "settled_already"
    with pytest.raises(Refused):
        charging.set_charge_aside(row.pk, reason="too late", by=owner, at=at)


CONSENT = {"given_by": " Ada Fenwick ", "how": "by phone", "text": "I agree to 29,000."}


def test_consent_keeps_who_how_and_the_words(sales: Actor, at: datetime, stay: Consignment) -> None:
    row = agreeing.record_consent(stay.pk, down_to=Decimal(29000), **CONSENT, by=sales, at=at)
    assert (row.given_by, row.down_to, row.text) == ("Ada Fenwick", Decimal(29000), "I agree to 29,000.")


@pytest.mark.parametrize("missing", ["given_by", "how", "text"])
def test_consent_without_who_how_or_words_is_refused(
    sales: Actor, at: datetime, stay: Consignment, missing: str
) -> None:
    with pytest.raises(Refused) as refusal:
        agreeing.record_consent(stay.pk, down_to=Decimal(29000), **{**CONSENT, missing: " "}, by=sales, at=at)
    assert refusal.value.field == missing
    assert not Consent.objects.exists()


def pay(stay: Consignment, amount: str, *, by: Actor, at: datetime, **more: Any) -> ConsignorPayment:
    return charging.record_consignor_payment(stay.pk, amount=Decimal(amount), method="cash", by=by, at=at, **more)


def test_consignor_pays_charges_of_a_withdrawn_vehicle_to_the_cent(
    owner: Actor, sales: Actor, at: datetime, stay: Consignment
) -> None:
    """612.40 + 185.00 less 500.00 leaves 297.40, by hand."""
    charge(stay, by=owner, at=at)
    charge(stay, by=owner, at=at, amount="185.00")
    with pytest.raises(Refused) as refusal:
        pay(stay, "1.00", by=sales, at=at)
    assert refusal.value.code == "not_withdrawn"
    build.step_to(State.WITHDRAWN, stay, at=at, price=Decimal(1))
    key = uuid.uuid4()
    assert pay(stay, "500.00", by=sales, at=at, client_key=key) == pay(stay, "500.00", by=sales, at=at, client_key=key)
    with pytest.raises(Refused, match=r"\$297.41 is more than the \$297.40 unpaid"):
        pay(stay, "297.41", by=sales, at=at)
    with pytest.raises(Refused) as refusal:
        pay(stay, "0.00", by=sales, at=at)
    assert refusal.value.field == "amount"
    pay(stay, "297.40", by=sales, at=at)
    assert facts.charges_unpaid(stay, charges=facts.live_charges(stay)) == 0
