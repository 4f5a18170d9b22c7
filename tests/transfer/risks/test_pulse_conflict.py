"""Which keys a logged pulse that the geometry does not give has looked at."""

from __future__ import annotations

from pathlib import Path

import pytest

from scaleup.io.study import read_study
from scaleup.model.press import MainRoller
from scaleup.transfer.risks.registry import all_risks
from tests.logged_production import Pressed, with_logs
from tests.studies import EXAMPLES
from tests.transfer.risks.changed_studies import case_of

HEAD = 13.0
"""mm of a head flat that the profile has as 9.5 mm."""


@pytest.mark.parametrize(
    ("pressed", "named", "left_out"),
    [
        (Pressed(clock=0.8), ("turret speed", "pitch_circle"), ("head_flat", "main_roller")),
        (Pressed(press={"pitch_circle": 410.0}), ("pitch_circle",), ("head_flat", "main_roller")),
        (Pressed(tooling={"head_flat": HEAD}), ("head_flat", "stiffness"), ("pitch_circle",)),
        (
            Pressed(press={"main_roller": MainRoller(radius=230.0, force_limit=72e3)}),
            ("main_roller", "head_edge_radius"),
            ("pitch_circle", "head_flat"),
        ),
    ],
    ids=("clock", "pitch circle", "head flat", "roller"),
)
def test_the_keys_that_would_explain_it_are_named(
    tmp_path: Path, pressed: Pressed, named: tuple[str, ...], left_out: tuple[str, ...]
) -> None:
    """A press made with one figure otherwise: the action names that one and not the others."""
    study = read_study(with_logs(tmp_path / "study", {"P2": pressed}))
    found = [each for each in all_risks(case_of(study)) if each.code == "pulse-conflicts"]
    assert len(found) == 1
    action = str(found[0].action)
    assert all(each in action for each in named)
    assert not any(each in action for each in left_out)
    assert found[0].effect == "none"


def test_a_turret_that_turns_slower_than_it_shows_is_told_by_how_much() -> None:
    """teasel was made on a press that turns 18 % slower: one factor on all times explains it."""
    study = read_study(EXAMPLES / "teasel")
    found = next(each for each in all_risks(case_of(study)) if each.code == "pulse-conflicts")
    action = str(found.action)
    assert "All times are off alike" in action
    slower = float(action.partition("turned ")[2].partition(" ")[0])
    assert slower == pytest.approx(1.0 / 1.18, abs=0.02)
