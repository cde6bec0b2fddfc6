"""Rows that record a fact of the past: appended, never edited."""

from typing import Any, ClassVar, Never, TypeVar

from django.db import models

Row = TypeVar("Row", bound=models.Model, covariant=True)


class AppendedQuerySet(models.QuerySet[Row]):
    def update(self, **kwargs: Any) -> Never:
        raise TypeError(f"{self.model.__name__} rows are appended, never edited: {sorted(kwargs)}.")

    def delete(self) -> Never:
        raise TypeError(f"{self.model.__name__} rows are appended, never deleted.")

    def erase(self, **values: Any) -> int:
        """Take a person's data out of columns that the model names for it, where the law asks for it."""
        fixed = sorted(set(values) - set(getattr(self.model, "erasable", ())))
        if fixed:
            raise TypeError(f"{self.model.__name__} keeps {', '.join(fixed)}.")
        return super().update(**values)


class Appended(models.Model):
    """A correction is a new row that names the one it corrects. Triggers say the same in the database.

    `erasable` columns hold what somebody said or is called; they alone may be emptied, by `erase`.
    """

    is_appended = True
    erasable: ClassVar[tuple[str, ...]] = ()
    objects = AppendedQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(f"{type(self).__name__} rows are appended, never edited.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise TypeError(f"{type(self).__name__} rows are appended, never deleted.")
