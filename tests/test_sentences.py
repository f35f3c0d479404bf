"""Sentences as data: told in the reader's units, never converted by reading them again."""

import pickle

import numpy as np
import pytest

from hydrokit.errors import Finding, HydrokitError
from hydrokit.sentences import Amount, Reader, Sentence, joined
from hydrokit.study.telling import attempted

METRIC, US = Reader(), Reader("us")


# Conversions by definition (NIST SP 811).
@pytest.mark.parametrize(
    "amount, metric, us",
    [
        (Amount(0.04, "temperature difference", 1), "0.04 °C", "0.07 °F"),
        (Amount(4.0, "temperature difference"), "4 °C", "7.20 °F"),
        (Amount(273.15, "temperature"), "0 °C", "32 °F"),
        (Amount(600.0, "density", 2), "600 kg/m³", "37 lb/ft³"),
        (Amount((0.1, 0.15), "diameter", 2), "100 to 150 mm", "3.9 to 5.9 in"),
        (Amount((0.1, 0.1), "diameter", 2), "100 mm", "3.9 in"),
        (Amount(0.42, "share", 2), "42 %", "42 %"),
        (Amount(1.0, "days"), "1 day", "1 day"),
        (Amount(2.5, "number", 2), "2.5", "2.5"),
        (Amount(np.radians(30), "angle", 2), "30°", "30°"),
        (Amount(np.nan, "flow"), "not known", "not known"),
        (Amount(1.05e3, "flow"), "1,050,000 L/s", "16,600,000 gpm"),
        (Amount(24480.0, "duration", 2), "6.8 hours", "6.8 hours"),
    ],
)
def test_an_amount_in_both_systems(amount, metric, us):
    assert (amount.told(METRIC), amount.told(US)) == (metric, us)
    assert str(amount) == metric


def test_what_comes_from_a_file_is_never_a_template():
    told = Sentence("{name} carries {flow}", name="{flow} {0} %s", flow=Amount(0.01, "flow"))
    assert str(told) == "{flow} {0} %s carries 10 L/s"
    assert US.told("in " + told) == "in {flow} {0} %s carries 159 gpm"


def test_sentences_are_joined_and_begun():
    low = Sentence("low by {head}", head=Amount(1.0, "head"))
    both = joined([low, Sentence("{days} long", days=Amount(2, "days")), "in {May}"])
    assert str(both.capital) == "Low by 1 m; 2 days long; in {May}"
    assert US.told(both) == "low by 3.28 ft; 2 days long; in {May}"
    twice = Sentence("{part} is near {part}", part="screen").capital
    assert str(twice) == "Screen is near screen"
    assert str(low + ", all year") == "low by 1 m, all year"
    assert Sentence("{flow} at most", flow=Amount(0.01, "flow")).capital.told(METRIC) == (
        "10 L/s at most"
    )


def test_sentences_are_compared_and_carried():
    first, second = (Sentence("low by {head}", head=Amount(1, "head")) for _ in range(2))
    assert first == second and hash(first) == hash(second)
    assert first != Sentence("low by {head}", head=Amount(2, "head"))
    assert pickle.loads(pickle.dumps(first)) == first
    found = Finding("note", "pond", first)
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_finding_has_its_sentence_as_data():
    found = Finding("note", "pond", Sentence("low by {head}", head=Amount(1, "head")))
    assert found.message == "low by 1 m" and str(found) == "note: pond: low by 1 m"
    assert US.told(found) == found.sentence.told(US) == "low by 3.28 ft"
    assert (
        Finding("note", "pond", "dry").message == US.told(Finding("note", "pond", "dry")) == "dry"
    )


def test_a_refusal_is_told_in_the_units_of_the_reader():
    error = HydrokitError(Sentence("no more than {head}", head=Amount(1, "head")))
    assert str(error) == "no more than 1 m" and US.told(error) == "no more than 3.28 ft"
    assert US.told(HydrokitError("a plain one")) == "a plain one"


def test_places_and_kinds_are_held_to_be_there():
    with pytest.raises(ValueError, match="places"):
        Sentence("low by {head}")
    with pytest.raises(ValueError, match="places"):
        Sentence("low", head=Amount(1, "head"))
    with pytest.raises(ValueError, match="no display kind"):
        Amount(1, "furlongs")


def test_what_could_not_be_worked_out_is_told_in_the_readers_units():
    """A refusal stays a sentence with its amounts, without the name of the function that refused."""

    class Worked:
        refused: dict = {}

        @attempted
        def flow(self):
            raise HydrokitError(Sentence("pipe(): passes {most} only", most=Amount(0.012, "flow")))

    worked = Worked()
    assert worked.flow is None
    assert str(worked.refused["flow"]) == "passes 12 L/s only"
    assert US.told(worked.refused["flow"]) == "passes 190 gpm only"
