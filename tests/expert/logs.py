"""Logs drawn at random, of every kind of entry, with text that no keyboard has; all invented."""

from hypothesis import strategies as st

from expert import case

ids = st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,6}){0,2}", fullmatch=True)
texts = st.text(max_size=30)
states = st.sampled_from(["present", "absent", "unknown"])
places = st.none() | st.integers(0, 10**6)
numbers = st.floats(allow_nan=False, allow_infinity=False)
facts = st.dictionaries(
    texts, texts | st.integers(-(10**9), 10**9) | numbers | st.booleans() | st.lists(texts), max_size=3
)
told = st.builds(
    case.Told,
    id=ids,
    state=states,
    quote=texts,
    start=places,
    end=places,
    certainty=st.sampled_from(["stated", "hedged"]),
    detail=st.none() | texts,
)
named = st.builds(case.Named, part=texts, text=texts, start=places, end=places, facts=facts)
messages = st.builds(
    case.MessageEntry,
    text=texts,
    sentences=st.integers(0, 99),
    redactions=st.integers(0, 9),
    language=st.sampled_from(["en", "other"]),
    findings=st.lists(told, max_size=3).map(tuple),
    build=st.lists(named, max_size=3).map(tuple),
    contradictions=st.lists(ids, max_size=2).map(tuple),
)
entries = st.one_of(
    messages,
    st.builds(case.AnswerEntry, finding=ids, state=states, detail=st.none() | texts, words=texts),
    st.builds(case.WithdrawEntry, finding=ids),
    st.builds(case.SkipEntry, finding=ids),
    st.builds(case.OutcomeEntry, check=ids, outcome=ids),
    st.builds(case.MeasureEntry, limit=ids, value=numbers, finding=ids, state=states, verdict=texts),
    st.builds(case.PartEntry, named=named),
    st.builds(case.HandEntry, have=st.lists(ids, max_size=3).map(tuple)),
    st.builds(case.NoteEntry, words=texts, hazard=st.none() | ids),
    st.builds(
        case.ExperienceEntry,
        counts=st.dictionaries(ids, st.dictionaries(ids, st.integers(0, 99), max_size=3), max_size=2),
    ),
    st.builds(case.CloseEntry, cause=st.none() | ids, replaced=st.lists(ids, max_size=2).map(tuple), words=texts),
    st.builds(case.ReopenEntry),
    st.builds(case.StepEntry, kind=st.sampled_from(["undo", "redo"])),
)
logs = st.lists(entries, max_size=6)
