"""Readings: what is taken for one, what is asked about, and what is never believed.

Which verdict the published limits lead to is tested in tests/sources.
"""

import random

import pytest

from expert.measure import Reading, judge, parse_reading
from knowledge import shipped_base
from knowledge.errors import CallError
from knowledge.models import Band, Limit

LIMITS = {limit.id: limit for limit in shipped_base().limits}
# A quantity of nobody's: 10 to 20 V in the one edition, 12 to 30 V in the other, 5 to 40 V in a circumstance.
EXAMPLE = Limit(
    id="example",
    title="example",
    unit="V",
    finding="example-good",
    plausible=(0.0, 50.0),
    bands=(
        Band(source="common practice", edition="first", low=10.0, high=20.0),
        Band(source="common practice", edition="second", low=12.0, high=30.0),
        Band(source="common practice", edition="first", low=5.0, high=40.0, only="on Sundays"),
    ),
)

READINGS = {
    "12.4 mV": (12.4, "mV"),
    "11,9 V": (11.9, "V"),
    "3.1v": (3.1, "V"),
    "12 volts": (12.0, "V"),
    "250 ms": (250.0, "ms"),
    "97 °C": (97.0, "°C"),
    "97 ºC": (97.0, "°C"),
    "97 ℃": (97.0, "°C"),
    "97 degrees C": (97.0, "°C"),
    "about 12": (12.0, None),
    "~12": (12.0, None),
    "it reads 11.9 V.": (11.9, "V"),
    "-11.8 V": (-11.8, "V"),
    "−11.8 V": (-11.8, "V"),
    "minus 11.8 volts": (-11.8, "V"),
    "+5.02V": (5.02, "V"),
    ".5 V": (0.5, "V"),
    "0,012 V": (0.012, "V"),
    "1200 mV": (1200.0, "mV"),
    "40 mVpp": (40.0, "mV"),
    "0.2 Ω": (0.2, "Ω"),
    "2 mohm": (2.0, "mΩ"),
    "2 Mohm": (2.0, "MΩ"),
    "１２ V": (12.0, "V"),
}

REFUSED = {
    "": "such as 11.9 V",
    "   ": "such as 11.9 V",
    "fine": "such as 11.9 V",
    "V": "such as 11.9 V",
    "no 12 V": "such as 11.9 V",
    "below 11 V": "such as 11.9 V",
    "< 11 V": "such as 11.9 V",
    "11.8 to 12.1 V": "such as 11.9 V",
    "12 13 V": "such as 11.9 V",
    "11.9.2 V": "such as 11.9 V",
    "inf V": "such as 11.9 V",
    "nan": "such as 11.9 V",
    "1e3 V": "such as 11.9 V",
    "9" * 400 + " V": "such as 11.9 V",
    "12 bananas": "no unit 'bananas'",
    "1,200 mV": "1.200 or 1200",
}

# Limit, words, and what the question offers or asks. Common practice, no source.
ASKED = [
    ("rail-12v", "12.4 mV", "Did you mean 12.4 V? If the meter does show mV, type 0.0124 V."),
    ("rail-12v", "119 V", "Did you mean 11.9 V?"),
    ("rail-12v", "11900", "Did you mean 11.9 V?"),
    ("rail-12v", "12 V AC", "on DC"),
    ("rail-12v", "12 ms", "no voltage"),
    ("rail-minus-12v", "11.9 V", "Did you mean -11.9 V?"),
    ("coin-cell", "-3.0 V", "Did you mean 3 V?"),
    ("coin-cell", "12.4 V", "range and measuring points"),
    ("mains-230", "230 V DC", "on AC"),
    ("power-good-delay", "250 V", "no time"),
    ("cpu-temperature", "97 K", "Did you mean 97 °C?"),
]


@pytest.mark.parametrize("words", READINGS)
def test_a_reading_is_a_number_and_a_unit(words):
    """As people type them, with comma or point, with or without blanks."""
    reading = parse_reading(words)
    assert (reading.value, reading.unit) == READINGS[words]


@pytest.mark.parametrize("words", REFUSED)
def test_what_is_not_one_reading_is_refused_with_what_to_type(words):
    """One short line, whatever was typed."""
    with pytest.raises(CallError) as refusal:
        parse_reading(words)
    assert REFUSED[words] in str(refusal.value)
    assert len(str(refusal.value)) < 160
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(("words", "alternating"), [("230 VAC", True), ("12 v dc", False), ("12 V", None)])
def test_a_reading_keeps_whether_the_meter_was_on_ac(words, alternating):
    """So that a meter left on AC does not condemn a rail."""
    assert parse_reading(words) == Reading(float(words.split()[0]), "V", alternating)


@pytest.mark.parametrize(("limit", "words", "question"), ASKED)
def test_a_reading_that_cannot_be_is_asked_about_and_not_believed(limit, words, question):
    """Neither a value nor a state, and a question."""
    verdict = judge(LIMITS[limit], parse_reading(words))
    assert (verdict.value, verdict.state, verdict.per_band) == (None, None, ())
    assert question in verdict.text
    assert "?" in verdict.text


@pytest.mark.parametrize(
    ("words", "value"),
    [("11900 mV", 11.9), ("0.0119 kV", 11.9), ("about 12", 12.0), ("0 mV", 0.0), ("0.0124 V", 0.0124)],
)
def test_another_prefix_is_converted_where_no_slip_is_likely(words, value):
    """1 V is 1000 mV (SI); what the question proposed to type is then believed."""
    assert judge(LIMITS["rail-12v"], parse_reading(words)).value == value


def test_a_missing_unit_is_taken_and_said():
    """The unit of the limit."""
    assert "taken as V" in judge(LIMITS["rail-12v"], parse_reading("12")).text
    assert "taken" not in judge(LIMITS["rail-12v"], parse_reading("12 V")).text


@pytest.mark.parametrize(
    ("volts", "state"),
    [
        (4.9, "absent"),
        (5.0, "unknown"),
        (9.9, "unknown"),
        (10.0, "unknown"),
        (12.0, "present"),
        (20.0, "present"),
        (20.1, "unknown"),
        (30.1, "unknown"),
        (40.0, "unknown"),
        (40.1, "absent"),
    ],
)
def test_the_bands_grade_a_reading(volts, state):
    """Inside all that hold by themselves, inside any, inside none; ends included."""
    assert judge(EXAMPLE, Reading(volts, "V")).state == state


def test_a_doubtful_verdict_names_both_sides():
    """In one sentence, with source and circumstance."""
    assert judge(EXAMPLE, Reading(11.0, "V")).text == (
        "example: 11 V is doubtful: within 10.00 to 20.00 V (first; common practice) "
        "and 5.00 to 40.00 V, only on Sundays (first; common practice), "
        "but outside 12.00 to 30.00 V (second; common practice)."
    )


def test_a_band_in_a_circumstance_never_condemns():
    """A narrower band with `only` leaves a reading good that the plain bands call good."""
    narrow = Band(source="common practice", edition="third", low=14.0, high=15.0, only="at night")
    limit = EXAMPLE.model_copy(update={"bands": (*EXAMPLE.bands[:2], narrow)})
    assert judge(limit, Reading(13.0, "V")).state == "present"


def test_any_words_lead_to_a_verdict_or_to_a_refusal():
    """Two thousand scraps of what might be typed: nothing but `CallError` comes out, and both kinds occur."""
    scraps = [
        "12",
        "-",
        "3.3",
        ",",
        ".",
        "V",
        "mV",
        "°C",
        " ",
        "AC",
        "about",
        "no",
        "½",
        "²",
        "\u0000",
        "K",
        "9" * 9,
        "é",
    ]
    chance = random.Random(1)
    outcomes = set()
    for _ in range(2000):
        words = " ".join(chance.choices(scraps, k=chance.randint(1, 5)))
        try:
            verdict = judge(LIMITS["rail-12v"], parse_reading(words))
        except CallError:
            outcomes.add("refused")
        else:
            assert (verdict.value is None) == (verdict.state is None)
            outcomes.add(verdict.state or "asked")
    assert outcomes == {"refused", "asked", "present", "absent"}


def test_a_converted_temperature_has_no_more_digits_than_a_thermometer():
    """45 °F are (45 - 32) / 1.8 = 7.22 °C (NIST SP 811, appendix B.8, from memory); told to a tenth."""
    told = judge(LIMITS["cpu-temperature"], parse_reading("45 °F")).text
    assert "7.2 °C" in told
    assert "7.22" not in told
