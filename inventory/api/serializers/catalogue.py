"""What a vehicle is asked, and the weights in force."""

from typing import Any

from rest_framework import serializers


class ShotShown(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()


class CheckAskedShown(serializers.Serializer[Any]):
    code = serializers.CharField()
    wording = serializers.CharField()
    hint = serializers.CharField(help_text="How to look, and what counts as a fault.")
    unit = serializers.CharField(help_text="Of its reading; empty where nothing is measured.")
    limit = serializers.CharField(help_text="The published limit of the reading, in words; empty where there is none.")
    compared_with = serializers.CharField(help_text="What else is read for the limit; empty where nothing is.")
    structural = serializers.BooleanField(help_text="Of what carries: it caps the condition.")
    weight = serializers.IntegerField(
        allow_null=True, help_text="In the condition; null where the weights in force are older than the check."
    )


class StationAskedShown(serializers.Serializer[Any]):
    code = serializers.CharField()
    title = serializers.CharField()
    hint = serializers.CharField()
    caution = serializers.CharField()
    checks = CheckAskedShown(many=True)
    shots = ShotShown(many=True)


class AskedShown(serializers.Serializer[Any]):
    """Stations in walking order. A feature that nobody said anything of narrows nothing."""

    policy = serializers.IntegerField(allow_null=True, help_text="Version of the weights; null before the first.")
    stations = StationAskedShown(many=True)


def _by_name(told: str) -> serializers.DictField:
    """Older versions lack some parts: what a version does not weigh is left out."""
    return serializers.DictField(child=serializers.IntegerField(), required=False, help_text=told)


class WeightsShown(serializers.Serializer[Any]):
    checks = _by_name("Share of each check in the condition.")
    structural = serializers.ListField(
        child=serializers.CharField(), required=False, help_text="Checks that cap the condition."
    )
    caps = _by_name("The most that the condition may be, by the grade of a structural check.")
    components = _by_name("Share of each component in the originality.")
    standings = _by_name("Points of a component, by its standing.")
    lacking = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField()), required=False,
        help_text="Components that leave the originality of a vehicle that is known to lack all of these features.",
    )  # fmt: skip
    modified = _by_name("Points that a changed component keeps at most, by its fitting.")
    slack = _by_name("Points by which a statement may be wrong either way, by its basis.")


class PolicyShown(serializers.Serializer[Any]):
    number = serializers.IntegerField(allow_null=True, help_text="Null while the house's first weights hold.")
    weights = WeightsShown()
    by = serializers.CharField()
    reason = serializers.CharField(help_text="Why these weights were put in force.")
    at = serializers.DateTimeField(allow_null=True)
