"""The base compiled for the reading and kept: the same reading in less time, never from a stale or damaged file."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from intake.frequency import frequencies
from intake.lexicon import Lexicon
from intake.patterns import parse
from intake.prepared import Compiler, compiled, prepared
from knowledge import shipped_base
from knowledge.wordings import Wording
from tests.intake.small import BASE

DEMO = Path(__file__).parents[2] / "corpus" / "demo" / "dusted-out.txt"
POLARITIES = ("present", "absent", "denied")


def test_what_is_compiled_is_plain():
    """It comes back from JSON as it was: no tuple, no set, no key that is not a word."""
    plain = compiled(shipped_base())
    assert json.loads(json.dumps(plain)) == plain


def test_what_is_kept_is_what_was_compiled(tmp_path: Path):
    """The first call keeps, the second finds."""
    assert prepared(BASE, tmp_path) == prepared(BASE, tmp_path) == compiled(BASE)
    (kept,) = tmp_path.iterdir()
    assert kept.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("damage", [b"", b"{}", b"not json"])
def test_a_damaged_file_is_made_again(tmp_path: Path, damage: bytes):
    """Whatever stands in the cache, the patterns are those of the base."""
    prepared(BASE, tmp_path)
    (kept,) = tmp_path.iterdir()
    kept.write_bytes(damage)
    assert prepared(BASE, tmp_path) == compiled(BASE)


def test_another_wording_is_another_key(tmp_path: Path):
    """A base that differs in one pattern is not answered with the patterns of the first."""
    other = BASE.model_copy(update={"wordings": (*BASE.wordings, Wording(finding="dead", present=("kaput",)))})
    prepared(BASE, tmp_path)
    assert prepared(other, tmp_path) == compiled(other) != compiled(BASE)


def test_a_pattern_is_made_once_and_as_it_was_parsed():
    """What comes out of the plain form is what parsing gives, with the record it stands for."""
    base = shipped_base()
    known, lexicon = Compiler(base), Lexicon(base)
    assert all(one is again for one, again in zip(lexicon.wordings, lexicon.wordings, strict=True))
    for pattern in (*lexicon.wordings, *lexicon.cues):
        assert pattern.elements in known.terms.variants(tuple(parse(pattern.text, known)))
    assert all(pattern.text in pattern.owner.say and pattern.owner in base.cues for pattern in lexicon.cues)
    texts = {
        (w.finding, polarity, text) for w in base.wordings for polarity in POLARITIES for text in getattr(w, polarity)
    }
    assert {(p.owner.finding, p.owner.polarity, p.text) for p in lexicon.wordings} == texts


def test_kept_frequencies_are_those_of_the_list(tmp_path: Path):
    """Zipf frequencies of wordfreq's own look-up, from the list and from what was kept of it."""
    from wordfreq import zipf_frequency

    listed, kept = (frequencies.__wrapped__(tmp_path) for _ in range(2))
    assert listed == kept
    for word in ("the", "board", "nothing", "aspirin", "solder"):
        assert kept[word] == zipf_frequency(word, "en", wordlist="small")


def test_the_answer_is_the_same_with_and_without_a_cache(tmp_path: Path):
    """Fresh processes: nothing kept, all kept, and no folder to keep anything in."""
    (tmp_path / "file").write_bytes(b"in the way")
    answers = [_triage(folder) for folder in (tmp_path / "new", tmp_path / "new", tmp_path / "file")]
    kinds = {path.name.partition("-")[0] for path in (tmp_path / "new" / "ohmbudsman").iterdir()}
    assert kinds == {"base", "lexicon", "frequencies"}
    assert answers[0] == answers[1] == answers[2]
    assert json.loads(answers[0])["findings"]


def _triage(cache: Path) -> bytes:
    command = [sys.executable, "-m", "expert.cli", "triage", "--json", str(DEMO)]
    environment = os.environ | {"XDG_CACHE_HOME": str(cache)}
    return subprocess.run(command, check=True, capture_output=True, env=environment).stdout
