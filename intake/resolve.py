"""Mentions into findings: one for each finding, the later statement wins, and what it overruled is kept to be asked.

Departures from "later wins": a stated claim beats a hedged one of the same state, and a danger sign once stated
stays present, since "no smoke now" does not undo the smoke.
"""

from collections.abc import Iterable, Iterator, Mapping, Set
from typing import Literal, cast

from intake.mentions import Mention, Polarity
from knowledge.models import Finding

# A finding whose details name different things (parts replaced, lights, codes) may stand several times.
_SEVERAL = frozenset(["part", "code", "light"])

Key = tuple[str, str | None]


def resolve(
    mentions: Iterable[Mention], findings: Mapping[str, Finding]
) -> tuple[list[tuple[str, Mention]], tuple[str, ...]]:
    """Give (finding id, mention) in the order of the message, and the ids whose earlier statement lost."""
    standing: dict[Key, Mention] = {}
    lost: dict[str, None] = {}
    for mention in _without_swallowed(list(mentions), findings):
        finding = findings.get(mention.finding)
        key = _key(mention, finding)
        earlier = standing.get(key)
        if earlier is not None and earlier.polarity != mention.polarity:
            lost[mention.finding] = None
        if earlier is None or _overrules(mention, earlier, finding):
            standing[key] = mention
    settled = _bare_claims(_without_vague(standing), findings)
    settled += _shown_while_off(settled, findings)
    return sorted(settled, key=lambda item: (item[1].start, item[1].end, item[0])), tuple(lost)


def unsaid(
    proposals: Iterable[Mention], settled: Iterable[tuple[str, Mention]], findings: Mapping[str, Finding]
) -> list[Mention]:
    """Give the proposals of findings that nothing told settles, or makes idle: a bare claim where more is told.

    Its denial is not idle: fans turn in a machine that starts and in one that does not.
    """
    told = {finding: mention.polarity for finding, mention in settled}
    return [
        mention
        for mention in proposals
        if mention.finding not in told
        and not (
            mention.polarity == "present"
            and any(told.get(other) == "present" for other in findings[mention.finding].yields_to)
        )
    ]


def _key(mention: Mention, finding: Finding | None) -> Key:
    several = finding is not None and finding.detail in _SEVERAL and mention.polarity == "present"
    return mention.finding, mention.detail if several else None


def _overrules(later: Mention, earlier: Mention, finding: Finding | None) -> bool:
    if later.polarity == earlier.polarity:
        if later.hedged != earlier.hedged:
            return earlier.hedged
        return later.detail is not None
    lasting = finding is not None and (finding.kind == "danger" or finding.comes_and_goes)
    return not (lasting and earlier.polarity == "present" and not earlier.hedged)


def _without_vague(standing: dict[Key, Mention]) -> dict[Key, Mention]:
    """Leave out "a part was replaced" where another mention says which."""
    named = {finding for finding, detail in standing if detail is not None}
    return {
        key: mention
        for key, mention in standing.items()
        if key[1] is not None or key[0] not in named or mention.polarity != "present"
    }


def _without_swallowed(mentions: list[Mention], findings: Mapping[str, Finding]) -> list[Mention]:
    """Longest wins: within one finding by place; across findings where all words of the one are words of the other.

    A bare claim yields to what it stands within: "a picture" of "a picture from the board's socket".
    """
    kept: list[Mention] = []
    for cluster in _clusters(mentions):
        for number, mention in enumerate(cluster):
            rivals = (
                (place, other) for place, other in enumerate(cluster) if other.overlaps(mention) and place != number
            )
            finding = findings.get(mention.finding)
            yields_to = finding.yields_to if finding else ()
            if not any(
                (_swallows(other, mention, place < number) and not _is_told_beside(mention, other, findings))
                or (
                    other.finding in yields_to
                    and _within(mention, other)
                    and not _swallows(mention, other, number < place)
                )
                for place, other in rivals
            ):
                kept.append(mention)
    return kept


def _is_told_beside(mention: Mention, other: Mention, findings: Mapping[str, Finding]) -> bool:
    """Tell whether a mention counts beside one that has all of its words.

    A word for a kind of machine does in a sign of it: "the laptop gets hot" is a laptop as well. So does a sign that
    ends a trial, "another outlet, still dead", and one that the other is told by: "shut down, the fans go on".
    """
    longer = findings.get(other.finding)
    if longer and mention.polarity in ("present", other.polarity) and mention.finding in longer.told_by:
        return True
    kinds = [findings[name].kind for name in (mention.finding, other.finding) if name in findings]
    ends = mention.end == other.end and mention.start > other.start
    return (kinds == ["machine", "sign"] and len(mention.literal) == 1) or (kinds == ["sign", "trial"] and ends)


def _clusters(mentions: list[Mention]) -> Iterator[list[Mention]]:
    """Groups of mentions that hang together by overlap, so that only few are compared with each other."""
    cluster: list[Mention] = []
    end = 0
    for mention in sorted(mentions, key=lambda mention: mention.start):
        if cluster and mention.start >= end:
            yield cluster
            cluster = []
        cluster.append(mention)
        end = max(end, mention.end)
    if cluster:
        yield cluster


def _within(inner: Mention, outer: Mention) -> bool:
    return outer.polarity == "present" and outer.start <= inner.start and inner.end <= outer.end


def _swallows(longer: Mention, shorter: Mention, came_first: bool) -> bool:
    if longer.finding != shorter.finding:
        return shorter.literal < longer.literal
    size = (len(longer.literal), longer.end - longer.start, longer.polarity != "denied", came_first)
    return size > (len(shorter.literal), shorter.end - shorter.start, shorter.polarity != "denied", not came_first)


def _bare_claims(standing: dict[Key, Mention], findings: Mapping[str, Finding]) -> list[tuple[str, Mention]]:
    """Drop a bare claim where more is told; sharpen it where every sign is denied ("no fans, no lights")."""
    told = {(mention.finding, mention.polarity) for mention in standing.values()}
    settled: list[tuple[str, Mention]] = []
    for mention in standing.values():
        finding = findings.get(mention.finding)
        if finding is None or mention.polarity != "present":
            settled.append((mention.finding, mention))
        elif not any((other, "present") in told for other in finding.yields_to):
            settled.append((_sharpened(finding, told, findings), mention))
        elif finding.blunts_to and not any(other == finding.blunts_to for other, _ in told):
            settled.append((finding.blunts_to, mention.with_state("absent", mention.hedged)))
    return settled


def _shown_while_off(settled: list[tuple[str, Mention]], findings: Mapping[str, Finding]) -> list[tuple[str, Mention]]:
    """Give what a sign also shows where the button does nothing: a light on the board is standby power."""
    told = {(name, mention.polarity) for name, mention in settled}
    if not any((finding.blunts_to, "absent") in told for finding in findings.values() if finding.blunts_to):
        return []
    also = [(findings[name].while_off, mention) for name, mention in settled if mention.polarity == "present"]
    return [(name, mention) for name, mention in also if name and not {(name, "present"), (name, "absent")} & told]


def _sharpened(finding: Finding, told: Set[tuple[str, Polarity]], findings: Mapping[str, Finding]) -> str:
    if finding.sharpens_to is None:
        return finding.id
    group = [
        other for other in findings if findings[other].evidence_group == finding.evidence_group and other != finding.id
    ]
    denied = sum((other, "absent") in told for other in group)
    lives = any((other, "present") in told for other in group)
    return finding.sharpens_to if denied >= 2 and not lives else finding.id


def state_of(mention: Mention) -> Literal["present", "absent"]:
    """The state of a settled mention."""
    return cast(Literal["present", "absent"], mention.polarity)
