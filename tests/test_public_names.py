"""The names of the package: complete, in order, and known to completion in a session."""

from __future__ import annotations

import inspect
import rlcompleter

import pytest

import scaleup
from scaleup.shown import Shown

ASKED = ("translate", "judge", "speed", "compare", "window", "imitate", "plan_trial", "learn")


def test_names_are_sorted_and_each_is_there() -> None:
    names = scaleup.__all__
    assert dir(scaleup) == names == sorted(names)
    assert len(set(names)) == len(names)
    for name in names:
        assert getattr(scaleup, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'translat'"):
        scaleup.translat  # noqa: B018  asked for to be refused


def test_every_answer_is_among_them() -> None:
    for name in ASKED:
        answer = inspect.signature(getattr(scaleup.Analysis, name)).return_annotation
        assert answer in scaleup.__all__
        assert issubclass(getattr(scaleup, answer), Shown)


def test_a_session_completes_names_and_methods() -> None:
    completer = rlcompleter.Completer({"scaleup": scaleup})
    assert str(completer.complete("scaleup.Transl", 0)).rstrip("(") == "scaleup.Translation"
    assert {"scaleup.compare(", "scaleup.compare_many("} == {
        str(completer.complete("scaleup.compare", number)) for number in range(2)
    }
    for name in ("_repr_html_", "plot", "to_frame", "equivalent"):
        assert name in dir(scaleup.Translation)


@pytest.mark.parametrize("name", ASKED)
def test_methods_name_their_arguments(name: str) -> None:
    signature = inspect.signature(getattr(scaleup.Analysis, name))
    kinds = {each.kind for each in signature.parameters.values()}
    assert inspect.Parameter.VAR_KEYWORD not in kinds
    assert inspect.Parameter.VAR_POSITIONAL not in kinds
