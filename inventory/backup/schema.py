"""How far the tables are migrated, and the models as they were at another point of the way."""

from django.apps import apps as live
from django.apps.registry import Apps
from django.db import connections
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from inventory.backup.tables import BACKED_UP
from inventory.errors import Refused

Steps = tuple[tuple[str, str], ...]


def applied(using: str) -> Steps:
    """The migrations of backed-up apps that this database has seen and this code knows."""
    loader = MigrationLoader(connections[using])
    return _ours(set(loader.applied_migrations) & set(loader.disk_migrations))


def of_code(using: str) -> Steps:
    return _ours(set(MigrationLoader(connections[using]).disk_migrations))


def _ours(steps: set[tuple[str, str]]) -> Steps:
    return tuple(sorted(step for step in steps if step[0] in BACKED_UP))


def refuse_pending(using: str) -> Steps:
    """A backup is made of tables that stand where the code does."""
    here, wanted = applied(using), of_code(using)
    if here != wanted:
        raise Refused("not_migrated", "The database is not at this version of the tables.", mend="Run `migrate` first.")
    return here


def refuse_unknown(steps: Steps, *, using: str) -> None:
    """A backup of a newer version, or of one with other apps, cannot be read by this one."""
    if unknown := sorted(set(steps) - set(of_code(using))):
        app, name = unknown[0]
        raise Refused(
            "newer_backup", f"This backup was made by another, newer version: {app} {name} is not known here.",
            field="file", mend="Restore it with that version.",
        )  # fmt: skip


def models_at(steps: Steps, *, using: str) -> Apps:
    """The models as those migrations leave them; today's own where they are all there are."""
    if steps == of_code(using):
        return live
    loader = MigrationLoader(connections[using])
    return loader.project_state(_ends(steps, loader=loader)).apps


def migrate_to(steps: Steps, *, using: str) -> None:
    executor = MigrationExecutor(connections[using])
    executor.migrate(_ends(steps, loader=executor.loader))


def _ends(steps: Steps, *, loader: MigrationLoader) -> list[tuple[str, str]]:
    """The last of them in each app."""
    taken, nodes = set(steps), loader.graph.node_map
    followed = {
        step for step in steps for child in nodes[step].children if child.key in taken and child.key[0] == step[0]
    }
    return sorted(taken - followed)
