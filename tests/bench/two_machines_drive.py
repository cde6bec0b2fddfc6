"""What `two_machines` tries: begun at one machine, gone on with at the other."""

import hashlib
import json
import os
import secrets
import signal
import sys
import threading
import time
import traceback
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from html.parser import HTMLParser
from itertools import cycle
from pathlib import Path
from typing import Any

import requests

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")

import django

django.setup()

from django.core.files.storage import default_storage
from django.utils import timezone

from inventory.actions import staffing
from inventory.models import (
    ArrivalReceipt,
    Consignment,
    Lot,
    ModelFit,
    Offer,
    Photo,
    PriceOpinion,
    SaleOutcome,
    Upload,
    User,
)
from inventory.rules.roles import Actor, ActorKind, Role
from inventory.rules.throttle import ACCOUNT_FAILED
from tests.bench.make_sales_file import HEADERS, sales
from tests.receipts import HAND
from tests.test_uploads import picture
from tests.uploads import films

A, B = os.environ["MACHINE_A"], os.environ["MACHINE_B"]
PASSWORDS: dict[str, str] = json.loads(os.environ["PASSWORDS"])
CLIP_MB = int(os.environ["CLIP_MB"])
PIECE = 2**20
WAIT = 240


class Form(HTMLParser):
    """What a page's form would send if nobody touched it."""

    def __init__(self, page: str, *, action: str = "") -> None:
        super().__init__()
        self._action, self._inside, self._select, self._area = action, False, "", ""
        self.sent: dict[str, str] = {}
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._inside = given.get("action", "") == self._action and given.get("method") == "post"
        name = given.get("name", "")
        if not self._inside or (not name and tag != "option"):
            return
        if tag == "input" and (given.get("type") not in {"checkbox", "radio"} or "checked" in given):
            self.sent[name] = given.get("value", "on" if given.get("type") == "checkbox" else "")
        elif tag == "select":
            self._select = name
            self.sent[name] = ""
        elif tag == "option" and "selected" in given and self._select:
            self.sent[self._select] = given.get("value", "")
        elif tag == "textarea":
            self._area = name
            self.sent[name] = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.sent[self._area] += data.removeprefix("\n")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._inside = False
        elif tag == "textarea":
            self._area = ""


class Person:
    """Somebody at a browser: one set of cookies, whichever machine answers."""

    def __init__(self, name: str) -> None:
        self.name, self.browser = name, requests.Session()

    def sign_in(self, at: str, *, password: str = "") -> requests.Response:
        page = self.get(at, "/sign-in/")
        sent = Form(page.text).sent | {"username": self.name, "password": password or PASSWORDS[self.name]}
        return self.browser.post(f"{at}/sign-in/", sent, timeout=WAIT, allow_redirects=False)

    def get(self, at: str, path: str) -> requests.Response:
        return self.browser.get(f"{at}{path}", timeout=WAIT, allow_redirects=False)

    def post(self, at: str, path: str, sent: dict[str, Any], files: Any = None) -> requests.Response:
        token = self.browser.cookies["csrftoken"]
        body = {"csrfmiddlewaretoken": token} | sent
        return self.browser.post(f"{at}{path}", body, files=files, timeout=WAIT, allow_redirects=False)

    def piece(self, at: str, code: str, content: bytes, *, offset: int) -> requests.Response:
        token = {"X-CSRFToken": self.browser.cookies["csrftoken"], "Content-Type": "application/octet-stream"}
        return self.browser.put(f"{at}/uploads/{code}/?offset={offset}", content, headers=token, timeout=WAIT)

    def announce(self, at: str, **said: Any) -> dict[str, Any]:
        token = {"X-CSRFToken": self.browser.cookies["csrftoken"]}
        answer: dict[str, Any] = self.browser.post(f"{at}/uploads/", json=said, headers=token, timeout=WAIT).json()
        return answer

    def finish_job(self, at: str, path: str) -> str:
        """Look at the job until it leads on; gives where to."""
        for _ in range(WAIT):
            answer = self.get(at, path)
            if answer.status_code == 302:
                return str(answer.headers["Location"])
            time.sleep(1)
        raise AssertionError(f"{path} did not end: {answer.text[:2000]}")


def sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def both(path: str, person: Person) -> tuple[bytes, bytes]:
    answers = [person.get(at, path) for at in (A, B)]
    assert [answer.status_code for answer in answers] == [200, 200], (path, answers)
    return answers[0].content, answers[1].content


def at_once(*deeds: Callable[[], Any]) -> list[Any]:
    """All of them from threads of their own."""
    got: list[Any] = [None] * len(deeds)

    def one(place: int) -> None:
        got[place] = deeds[place]()

    threads = [threading.Thread(target=one, args=(place,)) for place in range(len(deeds))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return got


owner, intake = Person("owner"), Person("intake")


def signs_in_at_one() -> str:
    for person in (owner, intake):
        assert person.sign_in(A).status_code == 302
        page = person.get(B, "/")
        assert page.status_code == 200, page.status_code
    one, other = both("/static/inventory/base.css", owner)
    assert one == other
    return "the same cookie is known at B; styles from both"


def photo() -> str:
    stay = listed()
    shot = ("nose.jpg", picture(size=(1600, 1200)), "image/jpeg")
    assert owner.post(A, f"/vehicles/{stay}/photos/", {}, files={"file": shot}).status_code == 302
    row = Photo.objects.latest("pk")
    for path in ("", "small/", "original/"):
        one, other = both(f"/photos/{row.code}/{path}", owner)
        assert one == other
    return f"{len(one):,} bytes, as sent and small, the same from both"


def clip() -> str:
    """Pieces go to the machines in turn; every fifth goes to both at once."""
    content, before = film(CLIP_MB), {name: peak_mb(name) for name in "AB"}
    began = time.monotonic()
    code = announced(content)
    for number, (offset, at) in enumerate(zip(range(0, len(content) - PIECE, PIECE), cycle((A, B)), strict=False)):
        piece = content[offset : offset + PIECE]
        where = (A, B) if number % 5 == 0 else (at,)
        answers = at_once(*(partial(intake.piece, at, code, piece, offset=offset) for at in where))
        assert all(answer.json()["received"] == offset + PIECE for answer in answers), [one.text for one in answers]
    sent = time.monotonic() - began
    offset += PIECE
    done = intake.piece(B, code, content[offset:], offset=offset).json()
    joined = time.monotonic() - began - sent
    assert done["finished"], done
    shown = [sha(intake.get(at, f"/clips/{done['made']}/").content) for at in (A, B)]
    assert shown == [sha(content)] * 2
    assert not any(default_storage.listdir(f"uploads/{code}"))
    memory = ", ".join(f"{name} {before[name]} to {peak_mb(name)} MB" for name in "AB")
    stretch = time.monotonic()
    part = intake.browser.get(f"{A}/clips/{done['made']}/", headers={"Range": "bytes=1000-65999"}, timeout=WAIT)
    assert part.content == content[1000:66000]
    stretch = time.monotonic() - stretch
    return (
        f"{len(content):,} bytes sent in {sent:.1f} s, checked and kept in {joined:.1f} s; a stretch of it shown in "
        f"{stretch:.2f} s; most memory: {memory}"
    )


def sheet() -> str:
    before = SaleOutcome.objects.count()
    rows = [HEADERS, *sales(rows=600, bad_every=20, seed=77)]
    content = "\n".join(",".join(f'"{cell}"' for cell in row) for row in rows).encode()
    sent = owner.post(A, "/past-sales/import/", {}, files={"file": ("sold.csv", content, "text/csv")})
    assert sent.status_code == 302, sent.text
    review = sent.headers["Location"]
    choices = Form(owner.get(B, review).text).sent | {"do": "import"}
    started = owner.post(B, review, choices)
    assert started.status_code == 302, started.text[-3000:]
    report = owner.finish_job(A, started.headers["Location"])
    one, other = both(f"{review}rejects/", owner)
    assert one == other
    told = owner.get(B, report).text
    assert SaleOutcome.objects.count() == before + 570
    assert "570" in told
    return f"looked at by B, read in by the worker, report and {len(one.splitlines()) - 1} rejects read at both"


def band() -> str:
    before = ModelFit.objects.latest("pk").pk
    began = time.monotonic()
    owner.finish_job(A, owner.post(B, "/past-sales/fit/", {}).headers["Location"])
    took = time.monotonic() - began
    fit = ModelFit.objects.latest("pk")
    assert fit.pk > before
    stay = listed()
    for at in (A, B):
        assert owner.post(at, f"/vehicles/{stay}/price/opinion/", {}).status_code == 302
        assert PriceOpinion.objects.latest("pk").fit_id == fit.pk
        assert owner.get(at, f"/vehicles/{stay}/price/").status_code == 200
    return f"asked at B, fitted by the worker to {fit.sales_used} sales in {took:.0f} s, used at once by A and B"


def settings_of_the_lot() -> str:
    sent = Form(owner.get(A, "/staff/").text, action=lot_form()).sent
    for at, other in ((A, B), (B, A)):
        name = f"Lot {secrets.token_hex(3)}"
        assert owner.post(at, lot_form(), sent | {"name": name}).status_code == 302
        assert name in owner.get(other, "/staff/").text
        assert Lot.objects.get().name == name
    return "a name given at A stands at B, and the other way"


def paper() -> str:
    stay = Consignment.objects.filter(state="listed").last()
    assert stay
    path = f"/vehicles/{stay.stock_number}/receipt/"
    sent = Form(owner.get(A, path).text, action="").sent
    sent |= {"fuel": "half", "keys_count": "2", "signs_as": "agent", "handed_over_by": "Ada Fenwick"}
    sent |= {"giver_strokes": json.dumps(HAND), "taker_typed": "on", "taken_in_by": "Sam Intake"}
    sent |= {"file_answer": "keep"}
    signed = owner.post(A, path, sent)
    assert signed.status_code == 302, signed.text
    one, other = both(f"/receipts/{ArrivalReceipt.objects.latest('pk').code}/", owner)
    assert one == other
    assert one.startswith(b"%PDF")
    for name in ("window-sheet", "condition-report"):
        assert all(made.startswith(b"%PDF") for made in both(f"/vehicles/{listed()}/papers/{name}.pdf", owner))
    return f"a receipt signed at A, {len(one):,} bytes, the same from B; two papers made by both"


def key_sent_to_both() -> str:
    who = User.objects.get(username="owner")
    by = Actor(kind=ActorKind.STAFF, name=who.full_name, role=Role.OWNER, id=who.pk)
    _, token = staffing.make_token("both machines", role=Role.OWNER, by=by, at=timezone.now())
    before, replayed, stay = Offer.objects.count(), 0, listed()
    for number in range(20):
        headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": str(uuid.uuid4())}
        body = {"amount": f"{41000 + number}.00", "bidder": "Bo Larkin"}
        path = f"/api/v1/consignments/{stay}/offers/"
        asked = (partial(requests.post, f"{at}{path}", json=body, headers=headers, timeout=WAIT) for at in (A, B))
        said = at_once(*asked)
        assert {one.status_code for one in said} <= {201, 409}, [one.text for one in said]
        done = [one.json() for one in said if one.status_code == 201]  # PostgreSQL keeps JSON in an order of its own
        assert done, [one.text for one in said]
        assert done[0] == done[-1]
        replayed += sum("Idempotency-Replayed" in one.headers for one in said)
    assert Offer.objects.count() == before + 20
    return f"20 offers sent to both at once are 20 offers; {replayed} answers told again"


def session_ended_at_one() -> str:
    other = Person("owner")
    other.sign_in(B)
    assert other.get(A, "/").status_code == 200
    assert owner.post(A, "/your-sign-in/sessions/end-others/", {}).status_code == 302
    after = [other.get(at, "/").status_code for at in (A, B)]
    assert after == [302, 302], after
    assert owner.get(B, "/").status_code == 200
    return "signed in at B, ended at A: signed out at both"


def machine_lost() -> str:
    """A is killed with a piece on its way; everything goes on at B."""
    content = film(8)
    code, half = announced(content), 4 * PIECE
    for offset in range(0, half, PIECE):
        intake.piece(A, code, content[offset : offset + PIECE], offset=offset)
    lost = [int(os.environ["PROCESS_A"]), *processes_of(int(os.environ["PROCESS_A"]))]
    cut = threading.Timer(0.02, lambda: [os.kill(one, signal.SIGKILL) for one in lost])
    cut.start()
    with suppress(requests.RequestException):
        intake.piece(A, code, content[half : half + PIECE], offset=half)
    cut.join()
    received = int(intake.get(B, f"/uploads/{code}/").json()["received"])
    for offset in range(received, len(content), PIECE):
        done = intake.piece(B, code, content[offset : offset + PIECE], offset=offset).json()
    assert done["finished"], done
    assert sha(intake.get(B, f"/clips/{done['made']}/").content) == sha(content)
    return f"{received:,} bytes were counted; the rest went to B, and the clip is whole"


def bucket_silent() -> str:
    """It takes connections and says nothing. What needs no file goes on."""
    content, stay = film(3), listed()
    code, photo = announced(content), f"/photos/{Photo.objects.latest('pk').code}/"
    os.kill(int(os.environ["PROCESS_BUCKET"]), signal.SIGSTOP)
    try:
        began = time.monotonic()
        said = [intake.get(B, photo).status_code, intake.piece(A, code, content[:PIECE], offset=0).status_code]
        took = time.monotonic() - began
        assert [owner.get(at, f"/vehicles/{stay}/price/").status_code for at in (A, B)] == [200, 200]
    finally:
        os.kill(int(os.environ["PROCESS_BUCKET"]), signal.SIGCONT)
    assert said == [503, 503], said
    assert intake.get(A, photo).status_code == 200
    for offset in range(0, len(content), PIECE):
        done = intake.piece(B, code, content[offset : offset + PIECE], offset=offset).json()
    assert done["finished"], done
    return f"a photo and a piece got 503 in {took:.0f} s together, desks were shown; then both went on"


def tries_counted_across() -> str:
    asked = []
    for at in (A, B) * ACCOUNT_FAILED:
        asked.append(Person("sales").sign_in(at, password="wrong horse battery").status_code)
        if asked[-1] == 429:
            break
    right = [Person("sales").sign_in(at).status_code for at in (A, B)]
    assert right == [429, 429], (asked, right)
    return f"{len(asked)} wrong tries in turn ({ACCOUNT_FAILED} are allowed): the right pass phrase waits at both"


def listed() -> str:
    stay = Consignment.objects.filter(state="listed").first()
    assert stay
    return str(stay.stock_number)


def lot_form() -> str:
    return "/staff/lot/"


def film(size_mb: int) -> bytes:
    return films.mp4() + films.box(b"free", secrets.token_bytes(size_mb * 2**20 - 3))


def announced(content: bytes) -> str:
    told = intake.announce(
        B, stock_number=listed(), kind="clip", name="walk.mp4", bytes=len(content), sha256=sha(content),
        client_key=str(uuid.uuid4()), clip_kind="walk_round", public=False, station="", shot="", caption="",
    )  # fmt: skip
    return str(told["code"])


def processes_of(parent: int) -> Iterator[int]:
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            if int(path.read_text().rpartition(")")[2].split()[1]) == parent:
                yield int(path.parent.name)
        except (FileNotFoundError, ProcessLookupError):
            continue


def peak_mb(name: str) -> int:
    """The most memory that the serving process of a machine has had."""
    child = next(processes_of(int(os.environ[f"PROCESS_{name}"])))
    status = Path(f"/proc/{child}/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) // 1024


DEEDS: tuple[Callable[[], str], ...] = (
    signs_in_at_one, photo, clip, sheet, band, settings_of_the_lot, paper, key_sent_to_both, session_ended_at_one,
    bucket_silent, tries_counted_across, machine_lost,
)  # fmt: skip


def main() -> int:
    failed = 0
    for deed in DEEDS:
        try:
            told = deed()
        except (AssertionError, LookupError, ValueError, requests.RequestException):  # told, and the rest is tried
            told, failed = f"FAILED\n{traceback.format_exc()}", failed + 1
        print(f"{deed.__name__.replace('_', ' ')}: {told}", flush=True)
    left = Upload.objects.filter(finished_at__isnull=True).count()
    print(f"uploads left open: {left}")
    return 1 if failed or left else 0


if __name__ == "__main__":
    sys.exit(main())
