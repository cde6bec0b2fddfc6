"""How the library says no: each text names the parameter, what it must be, and what came."""

from sklearn.exceptions import NotFittedError


class ValuationError(ValueError):
    """Root of every refusal of this library. `column` and `row` say where, when there is a where."""

    def __init__(self, message: str, *, column: str = "", row: object = None) -> None:
        super().__init__(message)
        self.column = column
        self.row = row


class BadInput(ValuationError):
    """A frame or a price that cannot be used: a column is missing, a value is infinite, a price is not positive."""


class BadOption(ValuationError):
    """A parameter of an estimator or of a measure that is not one of those allowed."""


class BadStore(ValuationError):
    """A stored fit that this version cannot read."""


class NotFitted(ValuationError, NotFittedError):  # type: ignore[misc]  # scikit-learn has no types
    """`fit` has not been called."""


class NotConverged(ValuationError):
    """The strengths of shrinkage did not settle."""
