"""What the property tests draw from: number words, dictation-like words, and whole draft records."""

from __future__ import annotations

from hypothesis import strategies as st

from dictation.record import (
    PARTS,
    Corrected,
    DraftRecord,
    Evidence,
    Flag,
    FlagCode,
    HeardWord,
    NotMentioned,
    RecordField,
    Run,
    Source,
    TranscriptRecord,
    Unplaced,
)

ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
    "eighteen nineteen"
).split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()

DICTATED = (
    "right left both neither bilateral wrist elbow thumb index ring finger snuffbox lunate tender swelling no not without "
    "scar positive negative tinel's phalen's flexion extension minus plus lacks full power grip kilograms degrees seventy "
    "one oh five point to out of less than correction sorry scratch that same on the other side is and or but with over "
    "of if plan impression query your my she mother knee 4+/5 10-90 70° ? . , : R MCP m c p each all normal trial mean"
).split()
"""Words that steer the reading of dictation, one by one; drawn in any order they make mostly nonsense."""


def words_below_hundred(number: int) -> str:
    """Return 0 to 99 in words.

    >>> words_below_hundred(42)
    'forty two'
    """
    if number < 20:
        return ONES[number]
    tens, ones = divmod(number, 10)
    return TENS[tens - 2] + (f" {ONES[ones]}" if ones else "")


def ways_of_saying(number: int) -> list[str]:
    """Return how 0 to 360 is said in the clinic: "one hundred and five", "one hundred five", "one oh five", "105"."""
    hundreds, rest = divmod(number, 100)
    out = [str(number)]
    if not hundreds:
        return [*out, words_below_hundred(number)]
    head = f"{ONES[hundreds]} hundred"
    if not rest:
        return [*out, head]
    out += [f"{head} {words_below_hundred(rest)}", f"{head} and {words_below_hundred(rest)}"]
    if hundreds == 1:  # "two forty" is said of no joint
        out.append(f"one {words_below_hundred(rest)}" if rest >= 10 else f"one oh {ONES[rest]}")
    return out


said_numbers = st.integers(0, 360).flatmap(lambda n: st.tuples(st.just(n), st.sampled_from(ways_of_saying(n))))
"""(number, the words for it)."""


babble = st.lists(st.sampled_from(DICTATED) | st.text(max_size=12), max_size=120).map(" ".join)
"""Dictation words and any Unicode, in any order."""

unicode_text = st.text(max_size=3000)
"""Any Unicode text up to some thousand characters."""

text = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
seconds = st.none() | st.floats(0, 1e4)
numbers = st.none() | st.floats(-360, 360)


@st.composite
def drafts(draw: st.DrawFn) -> DraftRecord:
    """Draft records whose spans and ids are consistent, as every draft's are; their content is arbitrary."""
    words = draw(st.lists(st.builds(HeardWord, said=text, start=seconds, end=seconds, probability=st.none() | st.floats(0, 1))))
    n = len(words)
    spans = st.tuples(st.integers(0, n), st.integers(0, n)).map(lambda span: (min(span), max(span)))
    evidence = st.builds(
        Evidence, role=st.sampled_from(["statement", "side", "retraction"]), said=text, corrected=text, words=spans,
        start=seconds, end=seconds,
    )  # fmt: skip
    flag = st.builds(Flag, code=st.sampled_from(list(FlagCode)), level=st.sampled_from(["check", "info"]), message=text)
    optional = st.none() | text
    sides = st.sampled_from([None, "right", "left"])
    fields = draw(
        st.lists(
            st.builds(
                RecordField, id=text, part=st.sampled_from(PARTS), concept=text, side=sides,
                digit=st.sampled_from([None, "thumb", "little"]), joint=st.sampled_from([None, "elbow", "pip"]),
                structure=optional, aspect=st.sampled_from([None, "volar"]), status=optional, value=numbers, low=numbers,
                high=numbers, unit=optional, comparator=st.sampled_from([None, "<", ">="]), qualifier=optional,
                grade_sign=st.sampled_from([None, "+", "-"]), trial=st.sampled_from([None, 1, 3, "mean"]), position=optional,
                occasion=optional, mode=st.sampled_from([None, "active"]), confidence=st.floats(0, 1),
                flags=st.lists(flag, max_size=3), evidence=st.lists(evidence, max_size=3),
            ),
            max_size=5, unique_by=lambda field: field.id,
        )
    )  # fmt: skip
    ids = [field.id for field in fields]
    return DraftRecord(
        source=draw(
            st.builds(
                Source, name=text, sha256=text, duration_s=seconds, recogniser=text, model=optional, program_version=text,
                lexicon_version=text, personal_lexicon_sha256=optional,
            )
        ),
        transcript=TranscriptRecord(
            words=words,
            corrected=draw(st.lists(st.builds(lambda t, span: Corrected(text=t, **{"from": span}), text, spans), max_size=4)),
        ),
        fields=fields,
        runs=[Run(side="right", words=draw(spans), fields=ids)] if ids else [],
        unplaced=draw(st.lists(st.builds(Unplaced, text=text, start=seconds, end=seconds, reason=text), max_size=3)),
        not_mentioned=draw(st.lists(st.builds(NotMentioned, concept=text, side=sides, why=text), max_size=3)),
    )  # fmt: skip
