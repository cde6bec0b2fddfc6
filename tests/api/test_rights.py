"""Every address and method: who may, who may not, and that it works for those who may."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from django.urls import get_resolver
from django.urls.resolvers import URLPattern, URLResolver
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.api.urls import first_version
from inventory.models import Consignment
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.api import rows
from tests.api.conftest import NOW, client_of, said, url

pytestmark = pytest.mark.django_db

ALL = frozenset({Role.INTAKE, Role.SALES, Role.OWNER})
WALKING = frozenset({Role.INTAKE, Role.OWNER})
SELLING = frozenset({Role.SALES, Role.OWNER})
OWNER = frozenset({Role.OWNER})
DAY = timezone.localdate(NOW).isoformat()
LATER = (NOW.date() + timedelta(days=20)).isoformat()
TERMS = {"plan_kind": "percent", "rate": "9", "starts_on": DAY, "ends_on": LATER}


@dataclass(frozen=True)
class Case:
    """One method at one address. `before` makes what it needs and may return the id in the address."""

    name: str
    method: str
    roles: frozenset[Role]
    state: State = State.ON_LOT
    body: Any = field(default_factory=dict)
    before: Callable[[Consignment], Any] = lambda stay: None
    status: int = 0

    def __str__(self) -> str:
        return f"{self.method}-{self.name}"


def get(name: str, roles: frozenset[Role] = ALL, **more: Any) -> Case:
    return Case(name, "get", roles, **more)


def post(name: str, roles: frozenset[Role], **more: Any) -> Case:
    return Case(name, "post", roles, **more)


def version(stay: Consignment) -> dict[str, int]:
    return {"version": stay.version}


ARRIVAL = {"year": 1971, "make": "Merrow", "model": "Birch", "consignor_name": "Cy Aldous"}
CHARGE = {"kind": "repair", "what": "brakes", "amount": "100.00", "agreed_by": "Ada Fenwick"}
QUESTION = {"kind": "charge", "amount": "240.00", "what": "new brake hoses", "charge_kind": "repair"}
SALE = {"price": "48500.00", "buyer": "Bo Larkin"}
CASES = [
    get("me"), get("consignments"), get("consignment"), get("vehicles"), get("vehicle"), get("consignors"),
    get("consignor"), get("outcomes", SELLING), get("fits", SELLING),
    post("consignments", WALKING, body=ARRIVAL),
    Case("consignment", "patch", WALKING, body=version),
    Case("vehicle", "patch", WALKING, body={"version": 1}),
    Case("consignor", "patch", WALKING, body={"version": 1}),
    get("asks"), post("asks", OWNER, body={"ask": "50000.00"}),
    post("listing", OWNER, state=State.INSPECTED, before=rows.listable),
    get("inquiries", SELLING), get("showings", SELLING),
    post("inquiries", SELLING, state=State.LISTED, body={"way": "phone", "who": "Bo Larkin"}),
    post("showings", SELLING, state=State.LISTED, body={"note": "with a friend"}),
    get("offers", SELLING), get("answers", SELLING, state=State.LISTED, before=lambda stay: rows.offered(stay).pk),
    post("offers", SELLING, state=State.LISTED, body={"amount": "47000.00", "bidder": "Bo Larkin"}),
    post("answers", OWNER, state=State.LISTED, before=lambda stay: rows.offered(stay).pk, body={"answer": "refused"}),
    get("terms", SELLING), post("terms", OWNER, body=TERMS),
    get("charges", SELLING), post("charges", OWNER, body=CHARGE),
    post("charge_set_aside", OWNER, before=lambda stay: rows.charged(stay).pk, body={"reason": "twice"}),
    post(
        "storage", OWNER, before=lambda stay: [rows.long_over(stay)],
    ),
    get("lien_quotes", SELLING),
    post("lien_quotes", OWNER, body={"holder": "Tarn Valley", "amount": "900.00", "quoted_on": DAY}),
    get("consent_requests", SELLING), post("consent_requests", OWNER, body=QUESTION),
    post(
        "consent_request_answer", SELLING, before=lambda stay: rows.asked_consent(stay).pk,
        body={"agreed": True, "given_by": "Ada Fenwick", "how": "by phone"},
    ),
    post("consent_request_take_back", OWNER, before=lambda stay: rows.asked_consent(stay).pk),
    get("consignor_questions", SELLING),
    post(
        "consignor_question_answer", SELLING, before=lambda stay: rows.asked_by_consignor(stay).pk,
        body={"text": "It is."},
    ),
    get("deals", SELLING),
    get("extras", SELLING),
    post("extras", SELLING, state=State.SOLD, body={"kind": "sales_tax", "amount": "12.00"}),
    post("extra_set_aside", SELLING, state=State.SOLD, before=lambda stay: rows.taxed(stay).pk),
    get("concessions", SELLING),
    post("concessions", OWNER, state=State.SOLD, body={"amount": "100.00", "reason": "a scratch"}),
    post(
        "trade_in", WALKING, state=State.LISTED, before=lambda stay: [rows.in_trade(stay)],
        body={"year": 1971, "make": "Merrow", "model": "Birch"},
    ),
    post("deposit", SELLING, state=State.LISTED, body=SALE | {"deposit": "1000.00", "hold_until": LATER}),
    post("deal_end", SELLING, state=State.DEPOSIT, body={"reason": "no loan"}),
    post("sale", SELLING, state=State.LISTED, body=SALE),
    post("unwinding", OWNER, state=State.SOLD, body={"reason": "no loan"}),
    post("withdrawal", SELLING, state=State.LISTED, body={"reason": "price"}),
    post("release", SELLING, state=State.WITHDRAWN, body={"signed_for_by": "Ada Fenwick"}),
    post("title_sent", SELLING, state=State.SETTLED),
    get("payments", SELLING), post("payments", SELLING, state=State.SOLD, body={"amount": "500.00", "method": "cash"}),
    post("payment_fate", OWNER, state=State.SOLD, before=lambda s: rows.received(s).pk, body={"event": "cleared"}),
    get("consignor_payments", SELLING),
    post(
        "consignor_payments", SELLING, state=State.WITHDRAWN, before=lambda stay: [rows.charged(stay)],
        body={"amount": "100.00", "method": "cash"},
    ),
    get("settlement", SELLING, state=State.SOLD),
    post(
        "settlement", OWNER, state=State.SOLD, before=lambda stay: build.pay_in_full(stay, at=NOW),
        body={"expected_due": "44135.00"},
    ),
    post("settlement_reverse", OWNER, state=State.SETTLED, body={"reason": "the wrong terms"}),
    get("settlement_statements", SELLING),
    get("ledger", SELLING), get("trust_movements", SELLING),
    post(
        "trust_movements", OWNER, state=State.SETTLED, body={"kind": "to_lot", "amount": "4365.00", "method": "wire"}
    ),
    get("trust", OWNER), get("trust_balances", OWNER), post("trust_balances", OWNER, body={"amount": "100.00"}),
    get("disbursements", SELLING),
    post(
        "disbursements", OWNER, state=State.SETTLED,
        body={"payee_kind": "consignor", "payee": "Ada Fenwick", "amount": "44135.00", "method": "wire"},
    ),
    get("inspections"), post("inspections", WALKING),
    get("checks"),
    post("checks", WALKING, before=rows.begun, body={"check_code": "front.hood", "grade": 3, "basis": "seen"}),
    post(
        "station_checks", WALKING, before=rows.begun,
        body={"station": "front", "findings": [rows.SEEN], "rest": "no_fault"},
    ),
    get("features"), post("features", WALKING, body={"feature": "soft_top", "present": False}),
    get("visits"), post("visits", WALKING, before=rows.begun, body={"station": "front", "engine": "cold"}),
    get("flags"), post("flag_clearance", OWNER, before=rows.flagged, body={"reason": "tightened, seen by the owner"}),
    get("late_taps"), get("questions"), get("policy"),
    get("clips"), get("receipts"), get("receipt_file", before=lambda stay: rows.received_with_paper(stay).code),
    get("components"),
    post("components", WALKING, body={"component": "engine", "standing": "original", "basis": "seen"}),
    get("build_dates"),
    post(
        "build_dates", WALKING,
        body={"earliest_on": "1967-05-01", "latest_on": "1967-05-31", "basis": "seen", "source": "cowl"},
    ),
    get("decoder"),
    post("inspection_finish", WALKING, before=rows.graded),
    get("figures"),
    post("figures_tyres", WALKING, body={"position": "left_front", "size": "P235/75R15", "basis": "seen"}),
    post("figures_engine", WALKING, body={"bore_in": "4.03", "compression_psi": ["150", "148"], "basis": "measured"}),
    post("figures_driveline", WALKING, body={"axle_ratio": "3.73", "basis": "documented"}),
    post("figures_electrics", WALKING, body={"rest_volts": "12.45", "system_volts": 12, "basis": "measured"}),
    get("modifications"),
    post("modifications", WALKING, body={"kind": "wheels", "what": "wider", "fitting": "bolt_on", "basis": "seen"}),
    get("identity_numbers"),
    post("identity_numbers", WALKING, body={"kind": "frame_stamp", "value": "8A17J1", "basis": "seen"}),
    get("identity_resolution"),
    post(
        "identity_resolution", OWNER, before=lambda stay: [rows.disagreeing(stay)],
        body={"question": rows.DISAGREEMENT, "reason": "one digit of the title is a typing slip"},
    ),
    get("title_papers"), post("title_papers", WALKING, body={"kind": "title", "standing": "read"}),
    get("places"), post("places", ALL, body={"place": "Shop", "keys": "Hook 4", "not_for_sale": True}),
    get("photos"), get("log"),
    get("price", SELLING), post("price", SELLING, status=400),  # there is no fit: see test_pricing
    get("ask_curve", SELLING, status=400),  # there is no fit: see test_ask_curve
    get("comparison", SELLING, before=lambda stay: [rows.priced(stay)]),
    post("link", SELLING), Case("link", "delete", SELLING, before=rows.linked),
]  # fmt: skip


def address(name: str, stay: Consignment, row: Any) -> str:
    at_lot = {
        "vehicle": f"vehicles/{stay.vehicle.code}/", "consignor": f"consignors/{stay.consignor.code}/",
        **{name: f"{name}/" for name in ("me", "consignments", "vehicles", "consignors", "outcomes", "fits")},
        "decoder": "decoder/", "policy": "policy/", "trust": "trust/", "trust_balances": "trust/balances/",
    }  # fmt: skip
    if name in at_lot:
        return f"/api/v1/{at_lot[name]}"
    nested = {
        "consignment": "", "answers": f"offers/{row}/answers/", "charge_set_aside": f"charges/{row}/set-aside/",
        "station_checks": "checks/station/", "flag_clearance": f"flags/{row}/clearance/",
        "receipt_file": f"receipts/{row}/file/", "payment_fate": f"payments/{row}/fate/",
        "storage": "charges/storage/", "extra_set_aside": f"extras/{row}/set-aside/",
        "consent_request_answer": f"consent-requests/{row}/answer/",
        "consent_request_take_back": f"consent-requests/{row}/take-back/",
        "consignor_question_answer": f"consignor-questions/{row}/answer/",
        "settlement_reverse": "settlement/reverse/", "settlement_statements": "settlement/statements/",
        **{f"figures_{part}": f"figures/{part}/" for part in ("tyres", "engine", "driveline", "electrics")},
    }  # fmt: skip
    return url(stay, nested.get(name, f"{name.replace('_', '-')}/"))


def send(client: APIClient, case: Case, stay: Consignment, row: Any) -> Any:
    body = case.body(stay) if callable(case.body) else case.body
    kept = {"data": body, "format": "json"} if case.method != "get" else {}
    answer = getattr(client, case.method)(address(case.name, stay, row), **kept)
    if answer.streaming:  # a file stays open until it is read to its end
        assert b"".join(answer.streaming_content)
    return answer


@pytest.mark.parametrize("case", CASES, ids=str)
def test_address_answers_each_role_as_the_table_says(case: Case, stay: Callable[..., Consignment]) -> None:
    built = stay(case.state)
    row = case.before(built)
    built.refresh_from_db()
    before = Consignment.objects.values().get(pk=built.pk)
    stranger = APIClient()
    refused = send(stranger, case, built, row)
    assert refused.status_code == 401
    assert said(refused)["code"] == "not_authenticated"
    for role in sorted(ALL - case.roles):
        answer = send(client_of(role), case, built, row)
        assert (role, answer.status_code) == (role, 403)
        assert said(answer)["code"] == "not_allowed"
    assert Consignment.objects.values().get(pk=built.pk) == before
    for role in sorted(case.roles)[:1] if case.method != "get" else sorted(case.roles):
        answer = send(client_of(role), case, built, row)
        expected = case.status or {"get": 200, "post": 201, "patch": 200, "delete": 204}[case.method]
        assert (role, answer.status_code) == (role, expected), answer.content


def test_every_address_and_method_has_a_row_in_the_table() -> None:
    written = {(case.name, case.method) for case in CASES}
    assert set(offered(first_version)) - written == set()


def offered(patterns: list[URLPattern | URLResolver]) -> list[tuple[str, str]]:
    found = []
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            found += offered(pattern.url_patterns)
        else:
            view: Any = pattern.callback.view_class  # type: ignore[attr-defined]
            methods = [name for name in ("get", "post", "put", "patch", "delete") if hasattr(view, name)]
            found += [(str(pattern.name), method) for method in methods]
    return found


def test_unknown_address_is_401_to_strangers_and_404_to_staff(as_sales: APIClient, stranger: APIClient) -> None:
    assert stranger.get("/api/v1/nothing/").status_code == 401
    answer = as_sales.get("/api/v1/nothing/")
    assert (answer.status_code, said(answer)["code"]) == (404, "not_found")


@pytest.mark.parametrize("name", ["consignments/99-9999/", "vehicles/6f9619ff-8b86-4d01-b42d-00cf4fc964ff/"])
def test_unknown_row_is_404_without_detail(as_owner: APIClient, name: str) -> None:
    answer = as_owner.get(f"/api/v1/{name}")
    assert answer.status_code == 404
    assert said(answer)["message"] == "Nothing here that you may see."


def test_row_of_another_consignment_is_404(as_owner: APIClient, stay: Callable[..., Consignment]) -> None:
    one, other = stay(State.LISTED), stay(State.LISTED)
    offer = rows.offered(other)
    answer = as_owner.post(url(one, f"offers/{offer.pk}/answers/"), {"answer": "accepted"})
    assert answer.status_code == 404
    assert not offer.answers.exists()
    charge = rows.charged(other)
    assert as_owner.post(url(one, f"charges/{charge.pk}/set-aside/"), {"reason": "x"}).status_code == 404


def test_root_holds_the_api() -> None:
    assert get_resolver().resolve("/api/v1/me/").url_name == "me"
