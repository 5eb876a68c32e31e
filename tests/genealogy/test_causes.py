"""Causes as words and back, and how verdicts are joined."""

from datetime import date
from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace.genealogy.amounts import Verdict
from trace.genealogy.cause_said import hulls_said
from trace.genealogy.cause_words import NAMED, RANGED, needs_more
from trace.genealogy.causes import (
    All,
    Cause,
    CauseError,
    Holds,
    Made,
    Not,
    Some,
    Supplied,
    With,
    Within,
    all_of,
    opposite,
    read_cause,
    simple_parts,
    some_of,
    written,
)

VERDICTS: tuple[Verdict, ...] = ("cannot", "may", "certain")
# Codes as suppliers and people write them; a blank at an end is nobody's.
CODES = st.text(st.sampled_from("abzXYZ019-/.()=ü "), min_size=1, max_size=8).map(str.strip).filter(bool)
FIGURES = st.decimals(-10, 500, allow_nan=False, places=2)
PLAIN = sorted(name for name in RANGED if not needs_more(name))
SIMPLE = st.one_of(
    st.builds(Holds, CODES, st.one_of(st.just(""), CODES), st.one_of(st.none(), FIGURES)),
    st.builds(With, st.just("since-check"), CODES, st.sampled_from(["", "2026-03-09", "2026-03-09T14:00"])),
    st.builds(Within, st.sampled_from(PLAIN), st.just(""), FIGURES, st.none()),
    st.builds(
        Within, st.sampled_from(["certificate", "stage", "thickness"]), st.sampled_from(["mfi", "drop 1"]),
        st.none(), FIGURES,
    ),
    st.builds(Supplied, CODES),
    st.builds(With, st.sampled_from(sorted(NAMED)), CODES),
    st.builds(Made, st.dates(date(2020, 1, 1), date(2024, 1, 1)), st.dates(date(2024, 1, 2), date(2030, 1, 1))),
    st.builds(Made, st.none(), st.dates()),
    st.builds(Made, st.dates(), st.none()),
)


def several(parts: st.SearchStrategy[Cause]) -> st.SearchStrategy[Cause]:
    more = st.lists(parts, min_size=2, max_size=3).map(tuple)
    return st.one_of(st.builds(All, more), st.builds(Some, more), st.builds(Not, parts))


@given(st.recursive(SIMPLE, several, max_leaves=8))
def test_a_cause_is_read_as_it_was_written(cause: Cause) -> None:
    assert read_cause(written(cause)) == cause


def test_words_as_somebody_would_type_them() -> None:
    words = "holds=K-5510 in=inner and made=2026-03-03..2026-03-09 and not arm=S2"
    march = Made(date(2026, 3, 3), date(2026, 3, 9))
    asked = All((Holds("K-5510", "inner"), march, Not(With("arm", "S2"))))
    assert read_cause(words.split()) == asked
    assert simple_parts(asked) == [Holds("K-5510", "inner"), march, With("arm", "S2")]
    # Side by side means and; and binds more than or.
    assert read_cause(["arm=S1", "scale=W-3", "or", "arm=S2"]) == Some(
        (All((With("arm", "S1"), With("scale", "W-3"))), With("arm", "S2"))
    )
    words = "certificate:mfi=3.4..3.6 holds=K-5510 from=2.5 in=inner peak=215"
    assert read_cause(words.split()) == All((
        Within("certificate", "mfi", Decimal("3.4"), Decimal("3.6")), Holds("K-5510", "inner", Decimal("2.5")),
        Within("peak", "", Decimal(215), Decimal(215)),
    ))  # fmt: skip
    assert read_cause(["made=2026-03-03"]) == Made(date(2026, 3, 3), date(2026, 3, 3))


@pytest.mark.parametrize(
    ("typed", "written_so"),
    [
        ("made=2026-07", "made=2026-07-01..2026-07-31"), ("made=July 2026", "made=2026-07-01..2026-07-31"),
        ("made=feb 2028", "made=2028-02-01..2028-02-29"), ("made=2026-07..2026-09", "made=2026-07-01..2026-09-30"),
        ("made=..July 2026", "made=..2026-07-31"), ("made=4 March 2026", "made=2026-03-04..2026-03-04"),
        ("peak=over 215", "peak=215.."), ("peak=under 4", "peak=..4"), ("peak=>= 215.5", "peak=215.5.."),
        ("peak=At most -3", "peak=..-3"), ("certificate=mfi over 4", "certificate:mfi=4.."),
        ("stage=drop foam 150..160", "stage:drop foam=150..160"), ("thickness=bow under 4.1", "thickness:bow=..4.1"),
    ],
)
def test_days_and_ranges_are_read_as_people_write_them(typed: str, written_so: str) -> None:
    """One question has one form, and so one digest, however it was typed."""
    assert written(read_cause([typed])) == [written_so]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("", "Nothing was asked for"),
        ("K-5510", "is no cause"),
        ("holds=", "is no cause"),
        ("luck=bad", "not known as a cause. Known are: holds, supplier, made, model, recipe"),
        ("in=skin", "not known as a cause"),
        ("arm=S1 from=3", "not known as a cause"),
        ("holds=K-5510 from=much", "“much” is no number"),
        ("peak=..", "names no figure"),
        ("peak=2_0..", "is no number"),
        ("peak=٣..", "is no number"),
        ("peak=220..215", "ends before it begins"),
        ("peak:skin=215..", "takes no name after a colon"),
        ("certificate=3.4..", "needs to be told of what"),
        ("since-check=W-3 before=soon", "no date or time"),
        ("arm=S1 and", "ends where another cause must follow"),
        ("( arm=S1", "opened and not closed"),
        ("arm=S1 )", "“)” stands where nothing can follow"),
        ("made=March", "no day or span of days"),
        ("made=2026-03-09..2026-03-03", "ends before it begins"),
        ("made=..", "names no day"),
        (" ".join(["not"] * 50 + ["arm=S1"]), "more than can be asked"),
        (" ".join(["arm=S1"] * 500), "more than can be asked"),
    ],
)
def test_what_cannot_be_read_is_answered_by_one_sentence(words: str, says: str) -> None:
    with pytest.raises(CauseError, match=says.replace("(", "\\(").replace(")", "\\)")) as caught:
        read_cause(words.split())
    assert str(caught.value).endswith(".")


def test_a_recorded_question_is_said_as_people_say_it() -> None:
    assert hulls_said(["holds=N-0417", "and", "not", "arm=S1"]) == (
        "hulls that hold something of N-0417 and were not cooked on arm S1"
    )
    assert hulls_said(["luck=bad"]) == "luck=bad"  # a word that is no longer read


def test_verdicts_are_joined_as_in_the_strong_logic_of_three_values() -> None:
    """Kleene, Introduction to Metamathematics (1952), section 64: the strong tables of not, and, or (from memory). They
    say what is true whichever way each doubt is resolved: reckoned here by resolving it both ways."""
    ways = {"cannot": (False,), "may": (False, True), "certain": (True,)}

    def seen(values: set[bool]) -> str:
        return "may" if len(values) == 2 else "certain" if True in values else "cannot"

    for one, other in product(VERDICTS, repeat=2):
        worlds = list(product(ways[one], ways[other]))
        assert all_of([one, other]) == seen({a and b for a, b in worlds})
        assert some_of([one, other]) == seen({a or b for a, b in worlds})
    assert [opposite(one) for one in VERDICTS] == [seen({not a for a in ways[one]}) for one in VERDICTS]
    assert opposite("may") == "may"
