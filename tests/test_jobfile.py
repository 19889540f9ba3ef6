"""A job's file changed: what was asked stands there, and every comment that a person wrote."""

from __future__ import annotations

import tomllib
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest
from filelock import FileLock
from hypothesis import given, settings
from hypothesis import strategies as st

from sourcing import jobfile
from sourcing.faults import BadInput
from sourcing.jobfile import ChangedMeanwhile, opened, put_new, save
from sourcing.jobtext import changed, clashing, difference, laid_over, lines_in, lines_of, new_text, text_of
from sourcing.tomltext import comments, literal

SCENARIOS = sorted((Path(__file__).resolve().parents[1] / "scenarios").glob("*.toml"))
BY_HAND = """\
# A unit that came twice.
[job]
number = "1" # as on the tag
family = "larch5"
date = 2026-04-13

# What the customer said on the telephone:
[limits] # not final
keep = [ # by Jory
  "plate", # sound
  "body",
]
# the end of the limits

[found]
block = {solenoids = 6} # dark in there
"""


def said(text: str) -> dict[str, str]:
    return dict(lines_of(tomllib.loads(text, parse_float=Decimal)))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_a_job_as_lines_and_as_a_new_text_says_the_same(path: Path) -> None:
    lines = opened(path).lines
    assert lines_in(text_of(lines)) == lines
    assert said(new_text(lines, "a heading\nof two lines")) == lines


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_one_job_is_made_of_another_by_their_difference(path: Path) -> None:
    other = opened(SCENARIOS[0]).lines
    text = opened(path).text
    made = changed(text, difference(said(text), other))
    assert said(made) == other
    assert not Counter(comments(text)) - Counter(comments(made))


def test_a_changed_value_keeps_the_comment_beside_it() -> None:
    assert 'number = "2" # as on the tag' in changed(BY_HAND, {"job.number": '"2"'})


def test_what_is_new_stands_above_a_comment_on_the_next_table() -> None:
    made = changed(BY_HAND, {"job.customer": '"Jory # Penhale"'})
    assert 'date = 2026-04-13\ncustomer = "Jory # Penhale"\n\n# What the customer said' in made


def test_comments_in_a_list_that_is_replaced_are_kept_at_the_end() -> None:
    made = changed(BY_HAND, {"limits.keep": '["body"]'})
    assert made.endswith("\n\n# by Jory\n# sound\n")
    assert "[limits] # not final\n" in made and "# the end of the limits\n" in made


def test_the_comment_of_a_line_that_goes_is_kept() -> None:
    made = changed(BY_HAND, {"found.block.solenoids": None, "found.block": '"block-b"'})
    assert "# dark in there" in made
    assert said(made)["found.block"] == '"block-b"'


def test_new_marks_stand_in_one_line() -> None:
    made = changed(BY_HAND, {"found.plate.tracks": "6", "found.plate.rivets": '"brass"'})
    assert 'plate = {tracks = 6, rivets = "brass"}' in made


def test_an_untouched_line_stays_as_it_was_written() -> None:
    odd = "[job]\nnumber   =  \"1\"\r\n\n\nfamily = '''larch5'''\n[labour]\nbase_hours = 1_3.50\n"
    made = changed(odd, {"job.customer": '"x"'})
    assert 'number   =  "1"' in made and "'''larch5'''" in made and "1_3.50" in made


VALUES = st.one_of(
    st.text(max_size=12).map(literal),
    st.integers(-(10**6), 10**6).map(str),
    st.lists(st.sampled_from(["a", "b # c", 'd"e'])).map(lambda listed: f"[{', '.join(map(literal, listed))}]"),
)
KEYS = ["job.number", "job.customer", "limits.keep", "limits.exclude", "vehicle.facts.lever", "unit.facts.pan", "found.plate",
        "found.block.solenoids", "found.block.cap", "found.screen.neck", "labour.base_hours", 'readings."a.b"']  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), st.none() | VALUES))
def test_whatever_is_changed_is_said_and_no_comment_is_lost(edits: dict[str, str | None]) -> None:
    asked = {key: value for key, value in edits.items() if value is not None or key in said(BY_HAND)}
    if "job.number" in asked and asked["job.number"] is None:
        del asked["job.number"]
    made = changed(BY_HAND, asked)
    assert said(made) == laid_over(said(BY_HAND), asked)
    assert not Counter(comments(BY_HAND)) - Counter(comments(made))


def test_who_saves_second_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(BY_HAND, encoding="utf-8")
    first = opened(path)
    save(first, first.version, {"job.number": '"2"'}, first.lines, lambda _: None)
    with pytest.raises(ChangedMeanwhile) as told:
        save(first, first.version, {"job.number": '"3"'}, first.lines, lambda _: None)
    assert told.value.theirs == {"job.number": '"2"'}
    assert opened(path).lines["job.number"] == '"2"'


def test_what_is_no_job_is_not_written(tmp_path: Path) -> None:
    def refuse(_: str) -> None:
        raise BadInput([])

    path = tmp_path / "job.toml"
    path.write_text(BY_HAND, encoding="utf-8")
    first = opened(path)
    with pytest.raises(BadInput):
        save(first, first.version, {"job.number": '"2"'}, first.lines, refuse)
    assert path.read_text(encoding="utf-8") == BY_HAND
    assert [one.name for one in tmp_path.iterdir() if one.name != ".jobs.lock"] == ["job.toml"]


def test_a_new_job_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "jobs" / "1.toml"
    put_new(path, {"job.number": '"1"'}, lambda _: None)
    with pytest.raises(
        BadInput, match=r"expected a name that no other job has; found 1\.toml\. Give the job another number"
    ):
        put_new(path, {"job.number": '"2"'}, lambda _: None)
    assert 'number = "1"' in path.read_text(encoding="utf-8")


def test_a_folder_in_which_somebody_else_saves_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobfile, "PATIENCE", 0.05)
    with FileLock(tmp_path / jobfile.LOCK), pytest.raises(BadInput, match="expected nobody else saving a job") as told:
        put_new(tmp_path / "1.toml", {"job.number": '"1"'}, lambda _: None)
    assert [fault.code for fault in told.value.faults] == ["jobs-in-use"]
    assert not (tmp_path / "1.toml").exists()


def test_a_part_by_name_and_the_same_part_by_marks_clash() -> None:
    assert clashing({"found.block": '"b"'}, {"found.block.caps": '"red"'}) == ["found.block"]
    assert clashing({"found.block.caps": '"red"'}, {"found.block.caps": '"red"'}) == []
    assert clashing({"limits.keep": "[]"}, {"limits.keeper": "[]"}) == []
