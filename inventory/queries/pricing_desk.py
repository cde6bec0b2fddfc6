"""What the pricing desk shows."""

from inventory.models import ModelFit
from inventory.queries.history import newest_outcome_id


def latest_fit() -> ModelFit | None:
    return ModelFit.objects.order_by("-pk").first()


def is_stale(fit: ModelFit) -> bool:
    """Whether outcomes came in since the fit was made."""
    return newest_outcome_id() > fit.newest_outcome_id
