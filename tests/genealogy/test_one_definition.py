"""What is withdrawn is said in one place: trace/genealogy/live.py; everything else asks there."""

import re
from pathlib import Path

from django.conf import settings

# Files that may name the table for another reason, and which.
OTHER_REASONS = {
    "trace/genealogy/live.py": "the definition",
    "trace/models/units.py": "the table itself",
    "trace/sheets/facts/entries.py": "the events that withdrew",
    "trace/genealogy/deeds.py": "what took the place of what was withdrawn",
    "trace/pages/open_lists/late.py": "the hulls that something was withdrawn from",
    "trace/recording/acts/corrections.py": "what took the place of what was withdrawn",
    "trace/recording/floor/ground.py": "what has been withdrawn since something was kept",
    "trace/recording/floor/weighed.py": "what took the place of what was withdrawn",
    "trace/genealogy/told_since.py": "the records that withdrew something since",
    "trace/readmodels/derived.py": "its rows, out of bytes",
    "trace/readmodels/records.py": "its rows, against the bytes",
    "trace/readmodels/rebuild.py": "all that was withdrawn, to apply it again",
    "trace/measure/check.py": "made-up rows",
    "trace/measure/records.py": "made-up rows",
    "trace/measure/scratch.py": "made-up rows",
    "trace/measure/whole.py": "made-up rows",
}
# "Not withdrawn" in any of the ways in which it can be written.
BY_HAND = re.compile(
    r"(NOT\s+EXISTS\s*\(\s*SELECT[^()]*FROM\s+edge_void|NOT\s+IN\s*\(\s*SELECT[^()]*FROM\s+edge_void"
    r"|LEFT\s+JOIN\s+edge_void|EXCEPT\s+SELECT[^()]*FROM\s+edge_void)",
    re.IGNORECASE,
)


def _sources() -> dict[str, str]:
    root = Path(settings.BASE_DIR)
    return {
        str(path.relative_to(root)): path.read_text()
        for folder in ("trace", "plant")
        for path in sorted((root / folder).rglob("*.py"))
        if "migrations" not in path.parts
    }


def test_not_withdrawn_is_written_by_hand_nowhere_else() -> None:
    found = [name for name, text in _sources().items() if BY_HAND.search(text) and name != "trace/genealogy/live.py"]
    assert found == []


def test_withdrawals_are_read_only_where_a_reason_stands_here() -> None:
    naming = {name for name, text in _sources().items() if re.search(r"\bedge_void\b", text)}
    assert naming - OTHER_REASONS.keys() == set(), "use live(), LIVE or WITHDRAWN of trace/genealogy/live.py"


def test_no_reason_outlives_its_file() -> None:
    naming = {name for name, text in _sources().items() if re.search(r"\bedge_void\b", text)}
    assert OTHER_REASONS.keys() - naming == set()
