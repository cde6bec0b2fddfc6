"""Which entry of the log makes which mail, how its text is filled, and when it is tried again."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.errors import Refused
from inventory.rules.mail_texts import EXAMPLE, HOUSE, filled, places_of
from inventory.rules.messages import (
    EVENTS,
    LINK_MARK,
    MOST_ATTEMPTS,
    check_places,
    counted,
    fill,
    kind_of,
    mark_due,
    next_try,
    offers_said,
    open_said,
    paragraphs,
    places_in,
    subject_of,
    week_of,
    with_link,
)
from inventory.rules.wording import LOG_SENTENCES
from inventory.rules.words import MessageKind

AT = datetime(2026, 3, 16, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("action", "data", "state", "kind"),
    [
        ("consignment.moved", {"was": "booked", "now": "on the lot"}, "on_lot", "arrived"),
        ("consignment.moved", {"was": "inspected", "now": "listed"}, "listed", "listed"),
        ("consignment.moved", {"was": "deposit taken", "now": "listed"}, "listed", None),
        ("ask.set", {}, "inspected", None),
        ("ask.set", {}, "deposit", "price_change"),
        ("deal.ended", {"how": "fallen through"}, "listed", "fell_through"),
        ("deal.ended", {"how": "unwound"}, "listed", None),
        ("deal.ended", {"how": "fallen through"}, "withdrawn", None),
        ("charge.added", {}, "listed", None),
    ],
)
def test_entry_of_the_log_makes_one_kind_of_mail_or_none(
    action: str, data: dict[str, str], state: str, kind: str | None
) -> None:
    assert kind_of(action, data=data, state=state) == kind


def test_every_kind_is_worded_and_every_told_action_is_one_of_the_log() -> None:
    assert set(HOUSE) == set(MessageKind)
    assert {event.action for event in EVENTS} <= set(LOG_SENTENCES)
    by_calendar = {MessageKind.ENDING, MessageKind.SUMMARY}
    assert {event.kind for event in EVENTS} | by_calendar == set(MessageKind)


@pytest.mark.parametrize("kind", MessageKind)
def test_house_wording_names_only_what_its_kind_has_and_no_person_but_the_consignor(kind: MessageKind) -> None:
    own = HOUSE[kind]
    named = {*places_in(own.subject), *places_in(own.body)}
    assert named <= set(places_of(kind)) <= set(EXAMPLE)
    assert set(own.places) <= named, "what a kind can say of its own, its house wording says"
    assert not {"buyer", "bidder", "note", "reason", "floor", "low", "high"} & set(places_of(kind))
    shown = filled(own, values=EXAMPLE)
    assert "{" not in shown.subject + shown.body
    assert len(own.subject) <= 150


def test_unknown_place_is_refused_by_name_with_what_there_is() -> None:
    with pytest.raises(
        Refused, match=r"“\{buyer\}” is nothing that this mail can say\. It has \{name\}, \{link\}\."
    ) as no:
        check_places("Sold to {buyer}", allowed=["name", "link"], what="body")
    assert (no.value.field, no.value.got) == ("body", "buyer")


@pytest.mark.parametrize("tricky", ["{name.__class__}", "{0}", "{}", "{ name }"])
def test_place_that_is_not_a_plain_name_is_refused(tricky: str) -> None:
    with pytest.raises(Refused):
        check_places(tricky, allowed=["name"], what="subject")


def test_what_is_filled_in_is_never_read_as_a_place() -> None:
    assert fill("{name} { } }", values={"name": "{link}", " ": ""}) == "{link}  }"


def test_subject_is_one_line_and_seen_to_be_cut() -> None:
    assert subject_of("{name}", values={"name": "Ada\r\nBcc: eve@example.org"}) == "Ada Bcc: eve@example.org"
    long = subject_of("{name}", values={"name": "x" * 300})
    assert (len(long), long[-1]) == (200, "…")


def test_text_becomes_paragraphs_of_lines_with_the_link_apart() -> None:
    text = f"Hello\r\n\r\nYour page: {LINK_MARK}.\nThe lot\n"
    assert paragraphs(text) == [[["Hello"]], [["Your page: ", LINK_MARK, "."], ["The lot"]]]
    assert with_link(text, address="").count("private link that the lot gave you") == 1


def test_tries_go_on_for_four_days_and_then_end() -> None:
    """RFC 5321, 4.5.4.1: the give-up time is at least four to five days; the first waits are short."""
    at, waits = AT, []
    for attempts in range(1, MOST_ATTEMPTS):
        again = next_try(attempts, at=at)
        assert again is not None
        waits.append(again - at)
        at = again
    assert [wait.total_seconds() / 60 for wait in waits[:6]] == [1, 5, 15, 60, 60, 60]
    assert at - AT >= timedelta(days=4)
    assert next_try(MOST_ATTEMPTS, at=at) is None


@pytest.mark.parametrize(
    ("today", "agreed", "mark"),
    [
        (date(2026, 3, 16), date(2026, 1, 1), None), (date(2026, 3, 17), date(2026, 1, 1), 14),
        (date(2026, 3, 27), date(2026, 1, 1), 14), (date(2026, 3, 28), date(2026, 1, 1), 3),
        (date(2026, 3, 31), date(2026, 1, 1), 3), (date(2026, 4, 1), date(2026, 1, 1), None),
        (date(2026, 3, 20), date(2026, 3, 20), None), (date(2026, 3, 28), date(2026, 3, 20), 3),
    ],
)  # fmt: skip
def test_reminder_of_an_end_on_31_march_is_due_from_each_mark_on(today: date, agreed: date, mark: int | None) -> None:
    assert mark_due(date(2026, 3, 31), today=today, agreed_on=agreed) == mark


def test_figures_of_a_week_are_said_in_words() -> None:
    assert offers_said([Decimal("40000.00"), Decimal("41000.00")]) == "2 offers: $40,000.00, $41,000.00"
    assert (offers_said([]), open_said(to_answer=0, asked=0)) == ("no offers", "nothing")
    said = open_said(to_answer=1, asked=2)
    assert said == "1 question from us for you to answer and 2 questions from you for us to answer"
    assert (counted(3, one="inquiry", many="inquiries"), week_of(date(2027, 1, 1))) == ("3 inquiries", "2026-W53")
