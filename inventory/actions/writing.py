"""How rows are written: checked first, and a lost race told as such."""

import uuid
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import date, datetime
from functools import reduce
from operator import and_
from pathlib import Path
from typing import Any, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.files import File
from django.db import IntegrityError, models, transaction
from django.db.models.fields.files import FieldFile
from django.utils import timezone

from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Consignment, Lot
from inventory.uploads.room import refuse_full_disk

Row = TypeVar("Row", bound=models.Model)


def add(row: Row) -> Row:
    """Check and insert one row."""
    check_columns(row)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as problem:
        raise _told(row) from problem
    return row


def add_all(rows: Sequence[Row]) -> list[Row]:
    """Insert many rows of one kind at once. The rows they point at were just read; the rest the database refuses."""
    if not rows:
        return []
    check_fields(rows)
    try:
        with transaction.atomic():
            return list(type(rows[0])._default_manager.bulk_create(rows))
    except IntegrityError as problem:
        raise _lost_race(rows[0]) from problem


def check_fields(rows: Sequence[models.Model]) -> None:
    """Check each column but those that point at other rows; the first that is wrong is told."""
    for row in rows:
        related = [field.name for field in row._meta.concrete_fields if field.is_relation]
        try:
            row.clean_fields(exclude=related)
        except ValidationError as problem:
            raise _refusal(row, problem=problem) from problem


def change(row: Row, **values: Any) -> Row:
    """Set the named columns of a locked row, check it, save just these; its version counts up."""
    names = list(values)
    for name, value in values.items():
        setattr(row, name, value)
    if hasattr(row, "version"):
        row.version += 1
        names.append("version")
    check_columns(row)
    try:
        with transaction.atomic():
            row.save(update_fields=names)
    except IntegrityError as problem:
        raise _told(row) from problem
    return row


def check(row: models.Model) -> None:
    """Run the row's own rules before it is written; the first broken one is told with its field.

    The same as `full_clean`, with fewer questions to the database: rows it points at that were just read are not looked
    up again, and all check constraints are asked about at once.
    """
    check_columns(row)
    try:
        row.validate_unique()
        _check_constraints(row)
    except ValidationError as problem:
        raise _refusal(row, problem=problem) from problem


def check_columns(row: models.Model) -> None:
    """The columns one by one. What spans columns and rows the database refuses when it is written: asking it before
    each write would cost as much as the write."""
    read = [
        field.name
        for field in row._meta.concrete_fields
        if isinstance(field, models.ForeignKey) and field.is_cached(row)
    ]
    try:
        row.clean_fields(exclude=read)
        row.clean()
    except ValidationError as problem:
        raise _refusal(row, problem=problem) from problem


def _told(row: models.Model) -> Refused:
    """Why the database refused the row, in words: a rule of its own, else somebody wrote in between."""
    try:
        check(row)
    except Refused as refused:
        return refused
    return _lost_race(row)


def check_alone(row: models.Model) -> None:
    """As `check`, of a row that is not saved and points at no other yet."""
    related = [field.name for field in row._meta.concrete_fields if field.is_relation]
    try:
        row.clean_fields(exclude=related)
        row.clean()
        _check_constraints(row)
    except ValidationError as problem:
        raise _refusal(row, problem=problem) from problem


def _check_constraints(row: models.Model) -> None:
    """All of them, the check constraints in one query; only what is broken is asked about one by one, to be named."""
    checks = [rule.condition for rule in row._meta.constraints if isinstance(rule, models.CheckConstraint)]
    others = [rule for rule in row._meta.constraints if not isinstance(rule, models.CheckConstraint)]
    together = reduce(and_, map(models.Q, checks), models.Q())
    values = row._get_field_expression_map(meta=row._meta)  # type: ignore[attr-defined]  # as CheckConstraint.validate
    if checks and not together.check(values):
        row.validate_constraints()
    try:
        for rule in others:
            rule.validate(type(row), row)
    except ValidationError:
        row.validate_constraints()
        raise


def _refusal(row: models.Model, *, problem: ValidationError) -> Refused:
    field, messages = next(iter(problem.message_dict.items()))
    name = "" if field == NON_FIELD_ERRORS else field
    got = getattr(row, name, None) if name else None
    label = str(row._meta.get_field(name).verbose_name) if name else ""  # type: ignore[union-attr]
    message = f"{label[:1].upper()}{label[1:]}: {messages[0]}" if name else messages[0]
    return Refused("invalid", message, field=name, got=None if got is None else str(got))


def keep_file(
    field: FieldFile, *, name: str, content: File[bytes], undo: ExitStack, more: int | None = None
) -> None:  # fmt: skip
    """Write one file of a row that is not saved yet; `undo` takes it away again if the row is refused.

    Every file from outside goes through here, and is refused where the disk is nearly full. `more` is what it takes of
    the disk, where that is not its size. Of a file that cannot be written whole nothing stays.
    """
    if taken := content.size if more is None else more:
        refuse_full_disk(taken)
    write_file(field, name=name, content=content)
    undo.callback(field.storage.delete, str(field.name))


def write_file(field: FieldFile, *, name: str, content: File[bytes]) -> None:
    """Under a name that is still free, so that what is there of it after a failed try is ours to take away."""
    storage = field.storage
    chosen = storage.get_available_name(field.field.generate_filename(field.instance, name))
    try:
        field.save(Path(chosen).name, content, save=False)
    except OSError:
        storage.delete(chosen)
        raise


def again(model: type[Row], *, client_key: uuid.UUID | None) -> Row | None:
    """The row that was made with this key before: sent twice, it is the same row."""
    if client_key is None:
        return None
    return model._default_manager.filter(client_key=client_key).first()


def locked(consignment_id: int, *, version: int | None = None) -> Consignment:
    """The consignment, locked for this transaction; refused if it changed since the caller looked."""
    row = (
        Consignment.objects.select_for_update(of=("self",))
        .select_related("vehicle", "consignor")
        .filter(pk=consignment_id)
        .first()
    )
    if row is None:
        raise NotFound("not_found", "There is no such consignment.", got=consignment_id)
    if version is not None and version != row.version:
        since = timezone.localtime(row.state_at).strftime("%Y-%m-%d %H:%M")
        raise TooLate(
            "stale_version",
            f"{row.stock_number} has changed since you looked: it is now {row.get_state_display()} "
            f"(by {row.state_by}, {since}), version {row.version}, yours was {version}.",
            field="version",
            got=row.version,
            mend="Look again, then repeat what still applies.",
        )
    return row


def refuse_stale(row: Any, *, version: int | None) -> None:
    """Refuse a change that was decided on an older version of the row."""
    if version is not None and version != row.version:
        raise TooLate(
            "stale_version",
            f"This has changed since you looked: it is at version {row.version}, yours was {version}.",
            field="version",
            got=row.version,
            mend="Look again, then repeat what still applies.",
        )


def locked_lot() -> Lot:
    """The lot's own row, locked: whoever counts (stock numbers, settlement numbers) holds it."""
    Lot.objects.get_or_create(pk=1)
    return Lot.objects.select_for_update().get(pk=1)


def trade_day(at: datetime) -> date:
    """The date in the lot's time zone."""
    return timezone.localdate(at)


def _lost_race(row: models.Model) -> TooLate:
    return TooLate(
        "lost_race",
        f"Somebody else changed this {row._meta.verbose_name} at the same moment.",
        mend="Look again, then repeat what still applies.",
    )
