"""A PostgreSQL that is stopped and started again at will, on one port."""

import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

from tests.servers import _run_as, binaries


class Postgres:
    def __init__(self) -> None:
        self.folder, self.identity, self.tools = Path(tempfile.mkdtemp(prefix="pg-")), _run_as(), binaries()
        if self.identity:
            os.chown(self.folder, self.identity["user"], self.identity["group"])
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"postgresql://test@127.0.0.1:{self.port}/postgres"
        options = ("-U", "test", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
        self._run("initdb", "-D", f"{self.folder}/data", *options)
        self.start()

    def start(self) -> None:
        flags = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories= -c max_connections=60"
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-w", "-l", f"{self.folder}/log", "-o", flags, "start")

    def stop(self) -> None:
        """As a machine that loses power: what was committed is in its log on the disk, nothing else."""
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "stop")

    def throw_away(self) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, tool: str, *arguments: str) -> None:
        command = [f"{self.tools}/{tool}", *arguments]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=self.folder, **self.identity)
