"""Rows that record a fact of the past: appended, never edited."""

from typing import Any, Never, TypeVar

from django.db import models

Row = TypeVar("Row", bound=models.Model, covariant=True)


class AppendedQuerySet(models.QuerySet[Row]):
    def update(self, **kwargs: Any) -> Never:
        raise TypeError(f"{self.model.__name__} rows are appended, never edited: {sorted(kwargs)}.")

    def delete(self) -> Never:
        raise TypeError(f"{self.model.__name__} rows are appended, never deleted.")


class Appended(models.Model):
    """A correction is a new row that names the one it corrects. Triggers say the same in the database."""

    is_appended = True
    objects = AppendedQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(f"{type(self).__name__} rows are appended, never edited.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise TypeError(f"{type(self).__name__} rows are appended, never deleted.")
