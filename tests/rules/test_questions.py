"""Questions with their place, the gravest first."""

from inventory.rules import plausibility
from inventory.rules.questions import Meaning, Question, Said, asked, gravest_first


def test_asked_gives_each_contradiction_its_place_and_passes_over_none() -> None:
    found = plausibility.Question("code", "It fell.", "Read it again.")
    assert asked(None, found, where="Odometer", section="49 CFR 580.5") == [
        Question("Odometer", "It fell. Read it again.", "49 CFR 580.5")
    ]


def test_what_stops_drives_comes_first_and_the_rest_keeps_its_order() -> None:
    one, two, grave = Question("a", "1"), Question("b", "2"), Question("c", "3", stops_drives=True)
    assert gravest_first([one, two, grave]) == (grave, one, two)


def test_said_gives_the_meanings_of_one_figure() -> None:
    said = Said((Meaning("size", "x"), Meaning("tin", "y")))
    assert said.of("tin") == (Meaning("tin", "y"),)
