"""What the commands about backups say alike."""

from collections.abc import Mapping, Sequence

from django.core.management.base import BaseCommand

from inventory.backup import Manifest, TableTold

SHOWN = 20
NOTHING = "0.00"
KEY_APART = (
    "SECRET_KEY (or the file secret_key of DATA_DIR) is not in it: keep it apart. Without it mail cannot repeat a "
    "private link, though the link still opens."
)


def tell_manifest(command: BaseCommand, *, manifest: Manifest, found: Mapping[str, TableTold] | None = None) -> None:
    """Each table that holds rows and each sum of money; beside it what was found after a restore."""
    head = f"{'':<44}{'in the backup':>16}" + (f"{'restored':>16}" if found else "")
    command.stdout.write(head)
    for name, table in manifest.tables.items():
        if not table.rows:
            continue
        _line(command, name=name, told=f"{table.rows:,}", here=f"{found[name].rows:,}" if found else "")
        for column, total in table.money.items():
            if total != NOTHING:
                _line(command, name=f"  {column}", told=total, here=found[name].money[column] if found else "")
    command.stdout.write(
        f"{manifest.rows:,} rows and {len(manifest.media):,} files of {manifest.media_bytes:,} bytes, as of "
        f"{manifest.made_at:%Y-%m-%d %H:%M:%S} UTC, from {manifest.database}."
    )


def _line(command: BaseCommand, *, name: str, told: str, here: str) -> None:
    command.stdout.write(f"{name:<44}{told:>16}{here:>16}".rstrip())


def tell_names(command: BaseCommand, *, names: Sequence[str], what: str) -> None:
    command.stderr.write(f"{len(names):,} {what}:")
    for name in names[:SHOWN]:
        command.stderr.write(f"  {name}")
    if len(names) > SHOWN:
        command.stderr.write(f"  and {len(names) - SHOWN:,} more; manifest.json names them all.")
