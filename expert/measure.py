"""Readings at the bench: the words into a value and a unit, and the value against the published limits.

A reading that the meter can hardly have shown there is asked about, never believed. Which limits there are, and where
they come from, stands in `limits.toml`.
"""

import re
import unicodedata
from dataclasses import dataclass

from knowledge.errors import CallError
from knowledge.models import Band, Limit, State

HOW = "type one number and its unit, such as 11.9 V"

# What people type for a unit, in small letters and without blanks.
_SPELLINGS = {
    "V": "v volt volts",
    "mV": "mv millivolt millivolts mvpp mvp-p",
    "kV": "kv kilovolt kilovolts",
    "ms": "ms msec millisecond milliseconds",
    "s": "s sec second seconds",
    "°C": "°c c °degc degc degreesc celsius degreescelsius degcelsius",
    "K": "k kelvin kelvins",
    "°F": "°f f degf degreesf fahrenheit degreesfahrenheit",
    "Ω": "ω ohm ohms",
    "kΩ": "kω kohm kohms kiloohm kiloohms",
    "A": "a amp amps ampere amperes",
    "mA": "ma milliamp milliamps milliampere milliamperes",
    "W": "w watt watts",
    "%": "% percent",
    "count": "count counts",
}
_UNIT_OF = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}
# Here a capital letter makes a millionth of a million.
_EXACT = {"mΩ": "mΩ", "mohm": "mΩ", "mOhm": "mΩ", "MΩ": "MΩ", "Mohm": "MΩ", "MOhm": "MΩ"}
# Unit -> (what it measures, factor, offset): factor * number + offset is in the unit that comes first for it.
_SCALE = {
    "V": ("voltage", 1.0, 0.0),
    "mV": ("voltage", 1e-3, 0.0),
    "kV": ("voltage", 1e3, 0.0),
    "ms": ("time", 1.0, 0.0),
    "s": ("time", 1e3, 0.0),
    "°C": ("temperature", 1.0, 0.0),
    "K": ("temperature", 1.0, -273.15),
    "°F": ("temperature", 5 / 9, -160 / 9),
    "Ω": ("resistance", 1.0, 0.0),
    "mΩ": ("resistance", 1e-3, 0.0),
    "kΩ": ("resistance", 1e3, 0.0),
    "MΩ": ("resistance", 1e6, 0.0),
    "A": ("current", 1.0, 0.0),
    "mA": ("current", 1e-3, 0.0),
    "W": ("power", 1.0, 0.0),
    "%": ("share", 1.0, 0.0),
    "count": ("count", 1.0, 0.0),
}
# Words that may stand around a reading and change nothing; "below", "no", "between" and the like change it.
_AROUND = """a about approx approximately around at ca circa exactly i get got is it it's its just measured measures
meter now on or read reading reads says shows showing so steady the there was"""
_PADDING = frozenset(_AROUND.split())
_LOOKALIKES = str.maketrans({"−": "-", "–": "-", "º": "°", "˚": "°"})
_SHAPE = re.compile(r"([-+]?) ?([0-9]{1,8}(?:[.,][0-9]{1,8})?|[.,][0-9]{1,8})([^0-9]*)")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")

# The bands of a limit, each with whether the value lies in it.
PerBand = tuple[tuple[Band, bool], ...]


@dataclass(frozen=True)
class Reading:
    """What a meter showed: the number, its unit (None if none was given), and whether it was marked AC or DC."""

    value: float
    unit: str | None
    alternating: bool | None = None


@dataclass(frozen=True)
class Verdict:
    """What a reading means: the value in the unit of its limit, the state of the finding, and one plain sentence.

    Value and state are None where the reading is not believed; the text is then a question.
    `per_band` says of each band whether the value lies in it.
    """

    value: float | None
    state: State | None
    text: str
    per_band: PerBand = ()


def parse_reading(words: str) -> Reading:
    """Read a number and its unit, as in "11,9 V", "12.4 mV", "about 12" or "minus 12 volts".

    Raises `CallError`, saying what to type, where the words are not one reading: no number, two of them, an unknown
    unit, or a comma that may be a decimal or a thousands mark.
    """
    text = unicodedata.normalize("NFKC", words.translate(_LOOKALIKES)).strip().rstrip(".!;:? ")
    kept = ["-" if word.lower() == "minus" else word for word in re.sub(r"[~≈=]", " ", text).split()]
    match = _SHAPE.fullmatch(" ".join(word for word in kept if word.lower().strip(",:") not in _PADDING))
    if match is None:
        raise CallError(f"cannot take {_short(words)} for a reading; {HOW}")
    sign, number, unit = match.groups()
    if _THOUSANDS.fullmatch(number):
        raise CallError(f"{number} may mean two things; type {number.replace(',', '.')} or {number.replace(',', '')}")
    value = float(number.replace(",", "."))
    return Reading(-value if sign == "-" and value else value, *_unit(unit.replace(" ", ""), words))


def judge(limit: Limit, reading: Reading) -> Verdict:
    """Hold a reading against the bands of a limit; a reading without a unit is taken in the unit of the limit."""
    value = _in_unit(reading.value, reading.unit or limit.unit, limit.unit)
    question = _question(limit, reading, value)
    if value is None or question:
        return Verdict(None, None, f"{limit.title}: {_shown(reading)} was not taken. {question}")
    per_band = tuple((band, band.holds(value)) for band in limit.bands)
    state = _state(per_band)
    taken = "" if reading.unit else f" (taken as {limit.unit})"
    text = f"{limit.title}: {_told(value, limit.unit)} {limit.unit}{taken} {_grounds(limit, state, per_band)}."
    return Verdict(value, state, text, per_band)


def _short(words: str) -> str:
    return repr(words if len(words) <= 40 else words[:40] + "…")


def _unit(typed: str, words: str) -> tuple[str | None, bool | None]:
    current = typed[-2:].lower() if typed[-2:].lower() in ("ac", "dc") else ""
    name = typed[: len(typed) - len(current)]
    unit = _EXACT.get(name) or _UNIT_OF.get(name.lower())
    if name and unit is None:
        raise CallError(f"no unit {_short(name)} in {_short(words)}; {HOW}")
    return unit, current == "ac" if current else None


def _in_unit(number: float, unit: str, wanted: str) -> float | None:
    """Convert between units of one quantity; None between different quantities."""
    (quantity, factor, offset), (other, divisor, shift) = _SCALE[unit], _SCALE[wanted]
    return round((factor * number + offset - shift) / divisor, 9) if quantity == other else None


def _state(per_band: PerBand) -> State:
    if all(inside for band, inside in per_band if not band.only):
        return "present"
    return "unknown" if any(inside for _, inside in per_band) else "absent"


def _question(limit: Limit, reading: Reading, value: float | None) -> str:
    """Give what to ask before the reading is believed; empty if there is nothing to ask."""
    if reading.alternating is not None and reading.alternating != limit.alternating:
        return f"Is the meter set right? This one is measured with the meter on {'AC' if limit.alternating else 'DC'}."
    if value is None:
        return f"That is no {_SCALE[limit.unit][0]}: what does the meter show in {limit.unit}?"
    if reading.unit not in (None, limit.unit) and reading.value != value and _tempting(limit, reading.value, value):
        return (
            f"Did you mean {reading.value:g} {limit.unit}? "
            f"If the meter does show {reading.unit}, type {_told(value, limit.unit)} {limit.unit}."
        )
    if not _plausible(limit, value):
        near = next((v for v in _slips(value) if _plausible(limit, v) and _held(limit, v)), None)
        low, high = limit.plausible
        meant = f"Did you mean {near:g} {limit.unit}? " if near is not None else ""
        return f"{meant}A meter shows {low:g} to {high:g} {limit.unit} there: are range and measuring points right?"
    return ""


def _tempting(limit: Limit, bare: float, value: float) -> bool:
    """Whether the number may belong to the unit of the limit, the unit typed being a slip."""
    return _held(limit, bare) or (_plausible(limit, bare) and not _held(limit, value))


def _plausible(limit: Limit, value: float) -> bool:
    return limit.plausible[0] <= value <= limit.plausible[1]


def _held(limit: Limit, value: float) -> bool:
    return any(band.holds(value) for band in limit.bands)


def _slips(value: float) -> list[float]:
    """What may have been meant: the leads swapped, a decimal point lost, a wrong range."""
    return [-value, value / 10, value / 100, value / 1000, value * 10, value * 100, value * 1000]


def _told(value: float, unit: str) -> str:
    """Print a value; a temperature to a tenth, since one that was converted has no more to say."""
    return f"{round(value, 1):g}" if unit == "°C" else f"{value:g}"


def _shown(reading: Reading) -> str:
    current = {None: "", True: " AC", False: " DC"}[reading.alternating]
    return f"{reading.value:g}{' ' + reading.unit if reading.unit else ''}{current}"


def _grounds(limit: Limit, state: State, per_band: PerBand) -> str:
    """Name the bands that speak for the state; one that holds in a circumstance only is named where it matters."""
    idle = {"present": True, "unknown": False}.get(state)
    told = [(band, inside) for band, inside in per_band if not (band.only and inside is idle)]
    within = " and ".join(_printed(limit.unit, band) for band, inside in told if inside)
    outside = " and ".join(_printed(limit.unit, band) for band, inside in told if not inside)
    if state == "unknown":
        return f"is doubtful: within {within}, but outside {outside}"
    return f"is good: within {within}" if state == "present" else f"is not good: outside {outside}"


def _printed(unit: str, band: Band) -> str:
    low, high = (None if end is None else _end(end, unit) for end in (band.low, band.high))
    ends = f"{low} to {high} {unit}" if low and high else f"{low or high} {unit} or {'more' if low else 'less'}"
    return f"{ends}{', only ' if band.only else ''}{band.only} ({band.edition}; {band.source})"


def _end(value: float, unit: str) -> str:
    """Print an end of a band as the guides do: volts below a hundred with two places at least."""
    text = f"{value:g}"
    return f"{value:.2f}" if unit == "V" and abs(value) < 90 and len(text.partition(".")[2]) < 2 else text
