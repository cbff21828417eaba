"""Words without marks: where marks are put, where not, and what two readings of them say to each other."""

from __future__ import annotations

import pytest
from spoken import corrected, draft, facts, flags

from dictation.extraction.extract import read_terms
from dictation.extraction.pauses import likely_marks
from dictation.extraction.two_readings import flag_disagreement
from dictation.lexicon.loading import load_lexicon


def marked(text: str) -> str:
    """The words of a text with the marks put among them."""
    lexicon = load_lexicon()
    tokens, _ = likely_marks(*read_terms(corrected(text), lexicon), {c.id: c.part for c in lexicon.concepts.values()})
    return " ".join(token.text + token.stop for token in tokens)


@pytest.mark.parametrize(
    ("bare", "read"),
    [
        (
            "right wrist extension sixty flexion seventy there is no swelling the snuffbox is not tender",
            "right wrist extension sixty, flexion seventy, there is no swelling. the snuffbox is not tender",
        ),
        (
            "tinel positive at the cubital tunnel on the left phalen negative on both sides froment negative",
            "tinel positive at the cubital tunnel on the left. phalen negative on both side. froment negative",
        ),
        ("no swelling or redness but tender over the snuffbox", "no swelling or redness but tender over the snuffbox"),
    ],
)
def test_marks_stand_where_a_writer_would_put_them(bare: str, read: str) -> None:
    assert marked(bare).replace(";", ".") == read


def test_no_mark_stands_inside_a_term_or_a_number() -> None:
    text = "left first dorsal interosseous four plus out of five two point discrimination five millimetres"
    lexicon = load_lexicon()
    tokens, mentions, numbers = read_terms(corrected(text), lexicon)
    out, _ = likely_marks(tokens, mentions, numbers, {c.id: c.part for c in lexicon.concepts.values()})
    inside = [i for n in numbers for i in range(n.start, n.end - 1)]
    inside += [k for k in range(len(tokens) - 1) if tokens[k].text in {"first", "dorsal", "two", "point"}]
    assert len(inside) > 6
    assert [out[i].stop for i in inside] == [""] * len(inside)
    assert [t.text for t in out] == [t.text for t in tokens]


def test_one_written_mark_leaves_all_as_it_is() -> None:
    text = "Left wrist. Extension sixty flexion seventy no swelling"
    assert not {"side_conflict check", "low_recognition check"} & set(flags(text))
    assert draft(text).fields[0].evidence[0].said == "Extension sixty"


def test_words_and_evidence_show_no_mark_that_nobody_made() -> None:
    record = draft("right wrist extension sixty flexion seventy there is no swelling the snuffbox is not tender")
    assert len(record.fields) == 4
    assert not {c for f in record.fields for e in f.evidence for c in e.said + e.corrected} & set(",.:;")


def test_with_and_without_marks_the_same_is_read() -> None:
    written = "Right hand. No swelling, no bruising. Tender over the snuffbox. Grip is thirty kilograms. Phalen's is positive."
    assert facts(written) == facts(written.replace(".", "").replace(",", "").lower())


def test_two_readings_that_disagree_ask_to_be_checked_and_change_nothing() -> None:
    text = "Left wrist swollen. Right wrist not tender."
    stands = [f.model_copy(deep=True) for f in draft(text).fields]
    other = [f.model_copy(deep=True) for f in draft(text).fields]
    other[0].side, other[1].status = "right", "present"
    flag_disagreement(stands, other)
    assert [[f"{flag.code} {flag.level}" for flag in f.flags] for f in stands] == [
        ["side_conflict check"],
        ["negation_unclear check"],
    ]
    assert '"Left wrist swollen" can also be read with another side' in stands[0].flags[0].message
    assert [(f.side, f.status) for f in stands] == [("left", "present"), ("right", "absent")]
    agreeing = [f.model_copy(deep=True) for f in draft(text).fields]
    flag_disagreement(agreeing, draft(text).fields)
    assert [f.flags for f in agreeing] == [[], []]


def test_numbers_with_their_sides_after_them_keep_them() -> None:
    text = "pronation seventy right eighty left supination forty right eighty five left firm end point"
    assert facts(text) == [
        "forearm_pronation right 70 deg", "forearm_pronation left 80 deg",
        "forearm_supination right 40 deg", "forearm_supination left 85 deg",
    ]  # fmt: skip


def test_sides_before_their_numbers_keep_them_too() -> None:
    assert facts("wrist extension right fifty five left seventy right thumb tender") == [
        "wrist_extension right wrist 55 deg", "wrist_extension left wrist 70 deg", "tenderness right thumb present",
    ]  # fmt: skip


def test_no_mark_parts_a_severity_from_the_finding_it_leads_nor_nerves_from_their_sensation() -> None:
    read = marked(
        "left elbow eight weeks after radial head fixation there is a well healed scar over the lateral elbow no erythema and "
        "mild swelling over the elbow active elbow flexion one hundred and five"
    )
    assert "and mild swelling" in read
    read = marked(
        "right wrist mild swelling wrist extension forty five flexion sixty pronation full supination full axial thumb "
        "compression positive watson's not done druj ballottement negative power grip strength forty kilograms right thirty "
        "four kilograms left right median ulnar and radial nerve sensation normal crt less than two"
    )
    assert "radial nerve sensation" in read


def test_two_readings_with_another_mode_or_severity_ask_to_be_checked() -> None:
    stands = [f.model_copy(deep=True) for f in draft("Left wrist swollen. Wrist flexion thirty degrees.").fields]
    other = [f.model_copy(deep=True) for f in stands]
    other[0].severity, other[1].mode = "mild", "active"
    before = [f.checked() for f in stands]
    flag_disagreement(stands, other)
    assert (before, [f.checked() for f in stands]) == ([False, False], [True, True])


def test_a_number_of_a_fingers_joint_without_its_finger_asks_to_be_checked() -> None:
    fields = draft("left middle mcp zero to ninety pips zero to one hundred dip zero to seventy two").fields
    assert [(f.joint, f.digit, f.checked()) for f in fields] == [
        ("mcp", "middle", False), ("pip", None, True), ("dip", None, True),
    ]  # fmt: skip
    row = draft("Left hand: MCPs zero to ninety degrees, PIPs zero to one hundred degrees.").fields
    assert [f.checked() for f in row] == [False, False]
