"""manage.py demo: an invented lot, set up and served on this machine."""

import os
import signal
import subprocess
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import demo
from inventory.errors import Refused


class Command(BaseCommand):
    help = "Set up an invented lot in an empty database, fit its price band, and serve it on loopback."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="set up and stop")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *_: Any, **given: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        self.stdout.write("Loading the invented demo lot and fitting its price band…")
        try:
            lot = demo.load(at=timezone.now())
        except Refused as problem:
            self.stderr.write(str(problem))
            sys.exit(2)
        self._tell(lot, port=given["port"])
        if not given["no_serve"]:
            self._serve(given["port"])

    def _tell(self, lot: demo.DemoLot, *, port: int) -> None:
        self.stdout.write(f"\nThe price band of {lot.shown}:")
        call_command("price", lot.shown, stdout=self.stdout)
        self.stdout.write(f"\nSign in at http://127.0.0.1:{port}/ as")
        for role, password in lot.passwords.items():
            self.stdout.write(f"  {role:<8} password {password}")
        self.stdout.write(f"The consignor of {lot.linked} opens http://127.0.0.1:{port}/status/open/{lot.token}")
        self.stdout.write("Every vehicle, person, marque and sale of the demo is invented.\n")

    def _serve(self, port: int) -> None:
        """Worker and mail beside the server: fits, imports and mail run there, never in a request.

        Unless MAIL says otherwise, the demo's mail goes into files under DATA_DIR/mail.
        """
        signal.signal(signal.SIGTERM, _leave)
        given = {"MAIL": "file", "PUBLIC_URL": f"http://127.0.0.1:{port}", **os.environ}
        beside = [
            subprocess.Popen([sys.executable, str(settings.BASE_DIR / "manage.py"), *words], env=given)  # noqa: S603
            for words in (["db_worker"], ["mail", "--loop"])
        ]
        try:
            call_command("runserver", f"127.0.0.1:{port}", use_reloader=False)
        finally:
            for process in beside:
                process.terminate()
                process.wait()


def _leave(*_: object) -> None:
    """Told to stop, take the worker along: without this its process would outlive us."""
    sys.exit(0)
