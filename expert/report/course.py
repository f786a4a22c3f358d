"""How the ranking moved: the belief after each entry of the log, for the causes that mattered most."""

from collections.abc import Iterable, Sequence

from expert.assess import Expert
from expert.case import Entry, fold
from expert.first_pass import DIGITS
from expert.report.model import Course, Moment
from expert.report.privacy import Names, shown
from expert.report.summary import sentence_of
from expert.report.wording import RESULTS
from knowledge.models import KnowledgeBase

SHOWN = 6  # causes; more rows than that tell a reader no more
LEADERS = 3  # a cause that was once among so many is shown

# What moves the ranking; the other kinds are left out of the picture.
MOVING = ("message", "answer", "withdraw", "outcome", "measure")


def course_of(
    base: KnowledgeBase, entries: Sequence[tuple[str, Entry]], expert: Expert, names: Names = frozenset()
) -> Course:
    """Give the ranking after each entry that can move it, from the log alone."""
    moments: list[tuple[str, Entry, dict[str, float]]] = []
    log: list[Entry] = []
    for at, entry in entries:
        log.append(entry)
        if entry.kind in MOVING:
            causes = expert.assess(fold(log)).belief.causes
            shares = {c.id: 0.0 if c.status == "excluded" else round(c.probability, DIGITS) for c in causes}
            moments.append((at, entry, shares))
    chosen = _that_mattered([shares for _, _, shares in moments])
    titles = {cause.id: cause.title for cause in base.causes}
    return Course(
        causes=chosen,
        titles=[titles[cause] for cause in chosen],
        moments=[
            Moment(
                at=at, kind=e.kind, words=words_of(base, e, names), probabilities=[shares[cause] for cause in chosen]
            )
            for at, e, shares in moments
        ],
    )


def _that_mattered(course: Sequence[dict[str, float]]) -> list[str]:
    """Give the causes that lead now, and those that once led; the likeliest now first."""
    if not course:
        return []
    now = _ranked(course[-1])
    once = dict.fromkeys(cause for shares in reversed(course) for cause in _ranked(shares)[:LEADERS])
    chosen = list(dict.fromkeys([*now[:LEADERS], *once, *now]))[:SHOWN]
    return sorted(chosen, key=now.index)


def _ranked(shares: dict[str, float]) -> list[str]:
    return sorted(shares, key=lambda cause: (-shares[cause], cause))


def words_of(base: KnowledgeBase, entry: Entry, names: Names = frozenset()) -> str:
    """Put an entry into a few plain words; `names` are blanked in it."""
    if entry.kind == "message":
        return "the owner's message"
    if entry.kind == "answer":
        said = sentence_of(base, entry.finding, entry.state)
        return f"{said} - “{shown(entry.words, names)}”"
    if entry.kind == "withdraw":
        return f"not told after all: {_title(base.findings, entry.finding)}"
    if entry.kind == "measure":
        limit = next((limit for limit in base.limits if limit.id == entry.limit), None)
        named = f"{limit.title}: {entry.value:g} {limit.unit}" if limit else f"{entry.limit}: {entry.value:g}"
        return f"{named}, {RESULTS[entry.state]}"
    if entry.kind == "outcome":
        check = next((check for check in base.checks if check.id == entry.check), None)
        outcomes = check.outcomes if check else ()
        return f"{check.title if check else entry.check}: {_title(outcomes, entry.outcome)}"
    return entry.kind


def _title(records: Iterable[object], name: str) -> str:
    return next((str(r.title) for r in records if getattr(r, "id", None) == name), name)  # type: ignore[attr-defined]
