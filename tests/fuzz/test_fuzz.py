"""A short run of the fuzzer; `python -m tests.fuzz.run` is the long one."""

from __future__ import annotations

from .run import KINDS, fuzz, one


def test_mutated_files_end_in_an_answer_or_a_refusal():
    tally, found = fuzz(80, seed=0, seconds=10)
    assert not found, "\n\n".join(found[:5])
    codes = {name.split("exit ")[1] for name in tally}
    assert {"0", "2"} <= codes


def test_every_kind_of_file_is_reached():
    for kind in KINDS:
        for index in range(3):
            assert one(kind, f"{kind.name} first {index}")[1] == ""
