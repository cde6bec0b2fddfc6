"""An outage of a mail server, told as a table: queued, tried, sent, doubled, lost.

`python -m tests.bench.mail_outage [EVENTS]` on a database of its own, against a real SMTP server on loopback that takes
mail, is told to refuse connections, to answer 421, to hang up before or after it has taken the text, and takes mail
again. Real sockets, the house's own SMTP backend, `mailing.run` a minute at a time by a clock that is handed in.
"""

import os
import sys
import tempfile
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

PORT = 20_000 + os.getpid() % 20_000
FOLDER = Path(tempfile.mkdtemp(prefix="mail-"))
os.environ |= {
    "DATA_DIR": str(FOLDER), "TASKS": "immediate", "DJANGO_SETTINGS_MODULE": "inventory.settings", "MAIL": "smtp",
    "SMTP_HOST": "127.0.0.1", "SMTP_PORT": str(PORT), "SMTP_STARTTLS": "0",
}  # fmt: skip

import django

django.setup()

from django.core.management import call_command

from inventory.actions import mailing, outbox
from inventory.actions.outbox import News
from inventory.models import OutMessage
from inventory.rules.words import MessageKind
from tests import build
from tests.smtp_stub import Stub

EVENTS = int(sys.argv[1]) if len(sys.argv) > 1 else 200
AT = datetime(2026, 3, 17, 15, tzinfo=UTC)  # a Tuesday: no summaries
MINUTE = timedelta(minutes=1)
# How the server behaves, and for how many minutes.
STORY = (("takes mail", 10), ("refuses connections", 30), ("answers 421", 15), ("hangs up before the text", 10),
         ("hangs up after the text", 3), ("takes mail", 120))  # fmt: skip


def main() -> None:
    call_command("migrate", verbosity=0)
    stay = build.consignment(at=AT)
    stub, minute, made = Stub(PORT), 0, 0
    busy = sum(minutes for _, minutes in STORY[:-1])
    print(f"{'server':<26}{'minutes':>8}{'queued':>8}{'tried':>8}{'sent':>8}{'waiting':>9}{'unclear':>9}")
    for mood, minutes in STORY:
        stub.turn(mood)
        tried = _tries()
        for _ in range(minutes):
            now = AT + minute * MINUTE
            while made < min(EVENTS, EVENTS * (minute + 1) // busy):
                news = News(stay=stay, kind=MessageKind.ANSWER, key=f"bench:{made}", values={"text": f"Event {made}"})
                outbox.queue(news, at=now)
                made += 1
            mailing.run(at=now)
            minute += 1
        of = Counter(OutMessage.objects.values_list("status", flat=True))
        print(f"{mood:<26}{minutes:>8}{made:>8}{_tries() - tried:>8}{of['sent']:>8}{of['queued']:>9}{of['unclear']:>9}")
    stub.turn("refuses connections")
    _tell(stub)


def _tries() -> int:
    return sum(OutMessage.objects.values_list("attempts", flat=True))


def _tell(stub: Stub) -> None:
    """The server's own count, against what the outbox says."""
    taken = Counter(stub.taken)
    rows = dict(OutMessage.objects.values_list("message_id", "status"))
    doubled = sum(count > 1 for count in taken.values())
    lost = [one for one, status in rows.items() if status == "sent" and not taken[one]]
    unclear = [one for one, status in rows.items() if status == "unclear"]
    print(f"\nmails {len(rows)}, taken by the server {len(taken)}, doubled {doubled}, said sent but lost {len(lost)}")
    print(f"unclear {len(unclear)}, of which the server had taken {sum(taken[one] > 0 for one in unclear)}")
    stuck = sum(status not in {"sent", "unclear", "failed"} for status in rows.values())
    print(f"neither sent nor shown to staff: {stuck}")
    print(f"most tries of one mail: {max(OutMessage.objects.values_list('attempts', flat=True))}")


if __name__ == "__main__":
    main()
