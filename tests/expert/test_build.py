"""The parts of a build from what a message tells of them: one part or two, and what is not known; all are invented."""

from expert.build import parts_of
from expert.case import Named
from expert.power import budget_of
from knowledge import shipped_base
from tests.expert.builds import without

BASE = shipped_base()


def _named(part, **facts):
    return Named(part=part, text="-", start=0, end=1, facts=facts)


def test_parts_from_a_message():
    """What the intake reads is taken as it stands; a rating that is only about right is no figure."""
    build = [_named("memory", count=2, module_gb=8), _named("psu", watts=500, approximately=True)]
    memory, psu = parts_of(BASE, build)
    assert (memory.part, memory.count, memory.count_known) == ("memory", 2, True)
    assert psu.number("watts") is None


def test_two_mentions_that_agree_are_one_part():
    """A drive named twice is one drive, two drives of different kinds or sizes are two."""
    build = [
        _named("storage", kind="ssd"),
        _named("storage", kind="ssd", capacity_gb=500),
        _named("storage", kind="hdd"),
    ]
    assert [part.word("kind") for part in parts_of(BASE, build)] == ["ssd", "hdd"]
    sizes = [_named("storage", kind="ssd", capacity_gb=size) for size in (500, 1000)]
    assert len(parts_of(BASE, sizes)) == 2
    assert len(parts_of(BASE, [_named("cooling", mm=120), _named("cooling", kind="tower")])) == 2, "fans and a cooler"


def test_a_machine_has_one_processor_and_what_is_disagreed_on_is_asked():
    """65 W here and 95 W there: neither is taken."""
    (cpu,) = parts_of(BASE, [_named("cpu", watts=65, socket="AM4"), _named("cpu", watts=95), _named("cpu", cores=6)])
    assert (cpu.number("watts"), cpu.word("socket"), cpu.number("cores")) == (None, "am4", 6)
    assert [ask.part for ask in budget_of(BASE, without("cpu", cpu)).asks] == ["cpu"]


def test_memory_of_which_only_the_size_is_told_is_counted_by_nobody():
    """16 GB may be one module or four; the number is asked for."""
    (memory,) = parts_of(BASE, [_named("memory", capacity_gb=16)])
    (ask,) = budget_of(BASE, without("memory", memory)).asks
    assert ask.text == "How many memory modules are fitted?"
    (two,) = parts_of(BASE, [_named("memory", capacity_gb=16), _named("memory", count=2)])
    assert budget_of(BASE, without("memory", two)).is_complete
