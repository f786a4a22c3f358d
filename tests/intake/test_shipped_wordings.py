"""The shipped wordings against tables of short sentences, each with exactly what it says.

The sentences are invented for this test, and the readings are ours, by the labelling guide of the corpus; no source.
"""

import tomllib
from pathlib import Path

import pytest

from intake import read_complaint
from knowledge import shipped_base

pytestmark = pytest.mark.usefixtures("wordings_alone")

HERE = Path(__file__).parent
TABLES = [HERE / "sentences.toml", *sorted((HERE / "sentences").glob("*.toml"))]
CASES = [case for table in TABLES for case in tomllib.loads(table.read_text(encoding="utf-8"))["case"]]


@pytest.mark.parametrize("case", CASES, ids=[case["say"][:60] for case in CASES])
def test_sentence_says_this_and_no_more(case):
    """All that is expected is found with its state, and nothing else is."""
    reading = read_complaint(case["say"], shipped_base())
    assert {f"{found.id}={found.state}" for found in reading.told} == set(case["expect"])


def test_every_expectation_names_a_finding():
    """A slip of the pen in the tables would else look like a missed finding."""
    known = {f"{finding.id}={state}" for finding in shipped_base().findings for state in ("present", "absent")}
    assert {expected for case in CASES for expected in case["expect"]} <= known


def test_of_what_a_meter_reads_owners_tell_two():
    """The paper clip in the supply's plug, and "12 V is fine": every other reading is taken at the bench."""
    told = {wording.finding for wording in shipped_base().wordings}
    measured = {finding.id for finding in shipped_base().findings if finding.kind == "measure"}
    assert told & measured == {"main-rails-good", "supply-starts-alone"}
