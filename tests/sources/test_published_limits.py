"""The limits of the base against published tables; each data file names its documents, and how far they were read."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest

from expert.engine import Engine
from expert.facts import claims_in
from expert.measure import Reading, judge, parse_reading
from knowledge import shipped_base
from knowledge.models import Band

BASE = shipped_base()
LIMITS = {limit.id: limit for limit in BASE.limits}
SEEN = {source.id: source.seen for source in BASE.sources}
TABLES = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in sorted(Path(__file__).parent.glob("*.toml"))}


def _rows(kind: str, *names: str) -> list[Any]:
    rows = [(table, row) for table, content in TABLES.items() for row in content.get(kind, [])]
    return [pytest.param(row, id=" ".join([table, *(str(row.get(name, "")) for name in names)])) for table, row in rows]


BANDS = _rows("band", "limit", "source", "low", "high")


def _source(row: dict[str, Any]) -> str:
    return f"{row['source']} {row['place']}" if "source" in row else row["seen"]


def _key(row: dict[str, Any]) -> tuple[Any, ...]:
    return row["limit"], _source(row), row.get("low"), row.get("high"), row.get("only", False)


def _key_of(limit: str, band: Band) -> tuple[Any, ...]:
    return limit, band.source, band.low, band.high, bool(band.only)


def test_every_band_of_the_base_is_a_row_here_and_every_row_a_band():
    """No number of the base stands without a row that says where it was read, and none is lost."""
    bands = sorted((_key_of(limit.id, band) for limit in BASE.limits for band in limit.bands), key=str)
    assert bands == sorted((_key(param.values[0]) for param in BANDS), key=str)


@pytest.mark.parametrize("row", BANDS)
def test_the_ends_of_a_published_band_belong_to_it_and_nothing_beyond(row):
    """A reading at each printed end is inside; the next figure that a meter could show is not."""
    limit = LIMITS[row["limit"]]
    for end, step in ((row.get("low"), -1), (row.get("high"), 1)):
        if end is None:
            continue
        beyond = end + step * 10.0 ** (math.floor(math.log10(abs(end) or 1)) - 3)
        assert _inside(limit, row, end) is True
        assert _inside(limit, row, beyond) is False


def _inside(limit, row, value):
    verdict = judge(limit, Reading(value, limit.unit))
    (inside,) = [inside for band, inside in verdict.per_band if _key_of(limit.id, band) == _key(row)]
    return inside


@pytest.mark.parametrize("row", [p for p in BANDS if "source" in p.values[0]])
def test_the_base_claims_to_have_read_no_more_than_was_read(row):
    """The source record says "read" or "read-2" as the row does."""
    assert SEEN[row["source"]] == row["seen"]


@pytest.mark.parametrize("row", _rows("verdict", "limit", "words"))
def test_a_reading_gets_the_verdict_that_follows_from_the_tables(row):
    """Inside every edition good, outside every edition not, between them doubtful and the editions named."""
    verdict = judge(LIMITS[row["limit"]], parse_reading(row["words"]))
    assert verdict.state == row["state"]
    assert [name for name in row["names"] if name not in verdict.text] == []


@pytest.mark.parametrize("row", _rows("conclusion", "findings", "kind", "id"))
def test_the_rules_conclude_what_the_trade_does(row):
    """What follows from findings, and what must never follow from them."""
    firings = Engine(BASE).run(claims_in(row["findings"]))
    drawn = {(gives.kind, gives.about) for firing in firings for gives in firing.gives_conclusions}
    assert ((row["kind"], row["id"]) in drawn) is not row.get("never", False)


@pytest.mark.parametrize("limit", BASE.limits, ids=lambda limit: limit.id)
def test_a_meter_can_show_the_nominal_value_and_every_end(limit):
    """Nothing that a band allows is taken for a slip, and the nominal value is good."""
    ends = [end for band in limit.bands for end in (band.low, band.high) if end is not None]
    assert [end for end in ends if not limit.plausible[0] <= end <= limit.plausible[1]] == []
    if limit.nominal is not None:
        assert judge(limit, Reading(limit.nominal, limit.unit)).state == "present"
