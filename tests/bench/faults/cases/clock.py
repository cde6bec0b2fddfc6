"""The server's clock is set back by an hour, then by a day, between deeds."""

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from urllib.error import HTTPError
from urllib.request import HTTPCookieProcessor, build_opener

from django.utils import timezone

from inventory.actions import linking
from inventory.models import Consignment, LogEntry, RepeatKey
from inventory.queries import facts
from inventory.rules.states import State
from tests import build
from tests.bench.faults.house import House, Row, cookie_of

STEPS = (("right", 0), ("an hour back", -3600), ("a day back", -86400), ("right again", 0))
PAGES = ("/", "/past-sales/", "/vehicles/{}/", "/vehicles/{}/sale/", "/vehicles/{}/terms/", "/vehicles/{}/settlement/",
         "/stock/", "/messages/", "/floor/")  # fmt: skip


def set_back(house: House) -> Iterator[Row]:
    """Vehicles that arrived a week ago live through all of it on one server after the other."""
    early = timezone.now() - timedelta(days=7)
    stays = [build.consignment(State.LISTED, at=early) for _ in STEPS]
    walked = build.consignment(State.LISTED, at=early)
    token = linking.make_link(walked.pk, by=build.BUILDER, at=early)[1]
    cookie = cookie_of("the-owner")
    counted: Counter[str] = Counter()
    for (name, off), stay in zip(STEPS, stays, strict=True):
        server = house.serve(application="tests.bench.faults.late:application", CLOCK_OFF=str(off))
        _deeds(house, stay, walked=walked, counted=counted)
        _pages(house, stay.stock_number, cookie=cookie, counted=counted, when=name)
        _links(house, token=token, counted=counted, when=name)
        house.kill(server)
    entries = list(LogEntry.objects.filter(consignment=walked).order_by("pk").values_list("pk", "data"))
    asked = [data.get("amount") for _, data in entries if data.get("amount")]
    ask = facts.current_ask(Consignment.objects.get(pk=walked.pk))
    last = f"the ask that counts is the one set last: {ask is not None and str(ask.amount) == '43000.00'}"
    ahead = RepeatKey.objects.filter(at__gt=timezone.now()).count()
    found = f"{counted['whole']} sales whole; {last}; {len(asked)} amounts logged; keys with a time to come: {ahead}"
    links = f"after wrong links the right one opened {counted['opened']} of {len(STEPS)}"
    seen = f"{counted['pages']} pages shown, {counted['bad pages']} not; {links}"
    yield (
        "clock set back 1 h, then 1 day, then right",
        f"{counted['done']} of {counted['posts']} deeds",
        found,
        str(counted["half-done"]),
        seen,
    )


def _deeds(house: House, stay: Consignment, *, walked: Consignment, counted: Counter[str]) -> None:
    where, all_along = f"consignments/{stay.stock_number}/", f"consignments/{walked.stock_number}/"
    until = str(timezone.localdate() + timedelta(days=5))
    version = Consignment.objects.get(pk=walked.pk).version
    number = counted["steps"]
    counted["steps"] += 1
    posts = [
        (f"{all_along}asks/", {"ask": f"{46000 - 1000 * number}.00", "reason": "stale", "version": version}),
        (f"{all_along}offers/", {"amount": f"{40000 + number}.00", "bidder": "Cy Doe"}),
        (f"{where}deposit/", {"price": "48500.00", "buyer": "Bo", "deposit": "500.00", "hold_until": until}),
        (f"{where}sale/", {}),
        (f"{where}payments/", {"amount": "48000.00", "method": "wire"}),
    ]
    for path, body in posts:
        answer = house.api(path, key=f"{path}{number}"[-70:], **body)
        counted["posts"] += 1
        counted["done"] += answer.is_done
        if not answer.is_done:
            print(path, answer.status, answer.body[:400], flush=True)
    stay.refresh_from_db()
    is_whole = stay.state == State.SOLD and stay.outcomes.count() == 1
    counted["whole"] += is_whole
    counted["half-done"] += (stay.state == State.SOLD) != (stay.outcomes.count() == 1)


def _pages(house: House, stock_number: str, *, cookie: str, counted: Counter[str], when: str) -> None:
    for page in PAGES:
        answer = house.get(page.format(stock_number), cookie=cookie)
        is_shown = answer.status == 200 and "/sign-in/" not in answer.body[:300]
        counted["pages" if is_shown else "bad pages"] += 1
        if not is_shown:
            print(when, page, answer.status, flush=True)


def _links(house: House, *, token: str, counted: Counter[str], when: str) -> None:
    """Wrong links until the address has to wait, then the right one: it opens nevertheless, whatever the clock says."""
    last = 0
    for number in range(14):
        last = house.get(f"/status/open/{'x' * 40}{number:03}").status or 0
    counted["waits"] += last == 429
    browser = build_opener(HTTPCookieProcessor())
    try:
        with browser.open(f"http://127.0.0.1:{house.port}/status/open/{token}", timeout=40) as answer:
            counted["opened"] += answer.status == 200
    except HTTPError as problem:
        print(when, "right link:", problem.code, flush=True)
    if last not in {404, 429}:
        print(when, "wrong link:", last, flush=True)
