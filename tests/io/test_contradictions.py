"""Runs against the profile of their press, and rows of one name against each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import scaleup
from scaleup.errors import InputError
from scaleup.io.library import find_press
from scaleup.io.starter import write_starter
from scaleup.io.study import read_study
from scaleup.model.study import RunDefaults, Study

EXAMPLES = Path(__file__).parents[2] / "examples"
TABLE = "run,press,force [kN],hold [s],weight [mg],thickness [mm]"


@pytest.fixture
def refused(tmp_path: Path) -> Callable[..., list[str]]:
    """Return what is said of the starter with another run table, lab press and lab keys."""

    def said(
        rows: list[str], head: str = TABLE, press: str = "lab-hydraulic", key: str = ""
    ) -> list[str]:
        folder = tmp_path / "study"
        write_starter(folder)
        text = (folder / "study.toml").read_text()
        text = text.replace('"lab-hydraulic"', f'"{press}"').replace("[production]", "[made]")
        text = text.replace('loading_rate = "5 kN/s"', key).replace('reference = "R1"', "")
        (folder / "study.toml").write_text(text.replace("[made]", "[production]"))
        (folder / "runs.csv").write_text("\n".join([head, *rows]) + "\n")
        with pytest.raises(InputError) as caught:
            read_study(folder)
        return [str(fault) for fault in caught.value.faults]

    return said


PLAIN = ["a,lab,5,,400,4.7", "b,lab,9,,400,4.1", "c,lab,13,,400,3.7"]
MADE = f"{TABLE},speed [rpm],precompression [kN],fill depth [mm]"

AGAINST = {
    "hold too long": (["a,lab,5,90,400,4.7", "b,lab,9,90,400,4.1"], {},
     ("runs.csv: lines 2 and 3, column hold: found a hold of 90 s; allowed: 0 to 60 s, the range "
      "of Alder bench press. Mend the run, or the range in the profile.")),
    "rate too quick": (PLAIN, {"key": 'loading_rate = "50 kN/s"'},
     "study.toml: lab.loading_rate: found a loading rate of 50 kN/s; allowed: 0.5 to 20 kN/s"),
    "key on a pump": (PLAIN, {"press": "lab-hand-pump", "key": 'loading_rate = "5 kN/s"'},
     ("study.toml: lab.loading_rate: found a loading rate of 5 kN/s; allowed: no loading rate, "
      "since Juniper hand press is loaded by its pump.")),
    "column on a pump": (["a,5,2"], {"press": "lab-hand-pump",
                                     "head": "run,force [kN],loading rate [kN/s]"},
     "runs.csv: line 2, column loading rate: found a loading rate of 2 kN/s; allowed: no loading"),
    "hold on a press that lets go": (PLAIN, {"press": "lab-hand-pump", "key": 'hold = "1 s"'},
     "study.toml: lab.hold: found a hold of 1 s; allowed: no hold, since Juniper hand press lets"),
    "speed of a hydraulic press": (PLAIN, {"key": 'speed = "30 rpm"'},
     "study.toml: lab.speed: found a speed of 30 rpm; allowed: no speed, since Alder bench press"),
    "speed of an eccentric press": (PLAIN, {"press": "lab-eccentric", "key": 'speed = "200 rpm"'},
     "study.toml: lab.speed: found a speed of 200 rpm; allowed: 20 to 80 rpm, the range of Hazel"),
    "rate of an eccentric press": (["a,5,2,40"], {"press": "lab-eccentric",
                             "head": "run,force [kN],loading rate [kN/s],speed [rpm]"},
     "column loading rate: found a loading rate of 2 kN/s; allowed: no loading rate, since Hazel"),
    "hold of a logged press": (PLAIN, {"press": "lab-recorded", "key": 'hold = "2 s"'},
     "lab.hold: found a hold of 2 s; allowed: no hold, since Rowan logging press is of kind"),
    "force": (["a,lab,62,,400,4.7"], {},
     ("line 2, column force: found a force of 62 kN; allowed: up to 60 kN, what Alder bench press "
      "may carry.")),
    "precompression in the lab": (["a,5,1"], {"head": "run,force [kN],precompression [kN]"},
     "found a precompression of 1 kN; allowed: no precompression, since Alder bench press comp"),
    "fill depth": (["a,5,40"], {"head": "run,force [kN],fill depth [mm]"},
     "column fill depth: found a fill depth of 40 mm; allowed: 0 to 30 mm, the fill of Alder"),
    "hold in production": (["a,production,5,1,400,4.7,40,,"], {"head": MADE},
     "column hold: found a hold of 1 s; allowed: no hold, since Linden 31-station press is of k"),
    "speed in production": (["a,production,5,,400,4.7,95,,"], {"head": MADE},
     "column speed: found a speed of 95 rpm; allowed: 10 to 85 rpm, the range of Linden"),
    "pre roller": (["a,production,60,,400,4.7,40,50,"], {"head": MADE},
     ("found a precompression of 50 kN; allowed: up to 46 kN, what the precompression roller of "
      "Linden 31-station press may carry.")),
    "force in production": (["a,production,95,,400,4.7,40,,"], {"head": MADE},
     "column force: found a force of 95 kN; allowed: up to 92 kN, what Linden 31-station press"),
}  # fmt: skip


@pytest.mark.parametrize("name", AGAINST)
def test_a_run_that_its_press_cannot_have_made(
    refused: Callable[..., list[str]], name: str
) -> None:
    rows, other, said = AGAINST[name]
    faults = refused(rows, **other)
    assert len(faults) == 1, faults
    assert said in faults[0]


def test_a_reading_a_little_beyond_the_range_is_taken(tmp_path: Path) -> None:
    write_starter(tmp_path / "study")
    path = tmp_path / "study" / "runs.csv"
    path.write_text(f"{TABLE}\na,lab,60.9,61,400,3.5\nR1,lab,9,0,400,4\n")
    assert read_study(tmp_path / "study").lab.runs[0].hold == 61.0


MIXED = {
    "force": (["a,lab,8,,400,4", "b,lab,9,,400,4", "a,lab,12,,400,4"], TABLE,
     ('runs.csv: lines 2 and 4, column force: found the run name "a" for forces of 8 to 12 kN; '
      "allowed: forces within 4 % of their mean for one name. Give each condition its own run "
      "name.")),
    "hold": (["a,lab,8,,400,4", "a,lab,8,1,400,4"], TABLE,
     'column hold: found the run name "a" for 0 to 1 s; allowed: one hold for one name. Give'),
    "loading rate": (["a,8,1", "a,8,"], "run,force [kN],loading rate [kN/s]",
     'column loading rate: found the run name "a" for 1000 to 5000 N/s; allowed: one loading'),
    "speed": (["a,production,8,,400,4,40,,", "a,production,8,,400,4,60,,"], MADE,
     'column speed: found the run name "a" for 40 to 60 rpm; allowed: one speed for one name'),
    "precompression": (["a,production,10,,400,4,40,1,", "a,production,10,,400,4,40,3,"], MADE,
     'column precompression: found the run name "a" for 10 to 30 % of the main force; allowed:'),
    "revolutions": (["a,8,100", "a,8,400"], "run,force [kN],revolutions",
     ('column revolutions: found the run name "a" for blends of 100 and 400 revolutions; allowed: '
     "one blend for one name.")),
    "press": (["a,lab,8,,400,4,,,", "a,production,8,,400,4,40,,"], MADE,
     ('lines 2 and 3, column press: found the run name "a" for runs on the lab and on the '
      "production press; allowed: one press for one name.")),
}  # fmt: skip


@pytest.mark.parametrize("name", MIXED)
def test_one_name_for_several_conditions(refused: Callable[..., list[str]], name: str) -> None:
    rows, head, said = MIXED[name]
    faults = refused(rows, head=head)
    assert len(faults) == 1, faults
    assert said in faults[0]


@pytest.fixture(scope="module")
def marram() -> Study:
    return read_study(EXAMPLES / "marram")


def test_a_study_made_in_python_is_held_to_the_same(marram: Study) -> None:
    """The forces of M2 under the name of M4, the reference, once turned its verdict."""
    runs = tuple(
        replace(run, name="M4", line=0) if run.name == "M2" else replace(run, line=0)
        for run in marram.lab.runs
    )
    mixed = replace(marram, lab=replace(marram.lab, runs=runs))
    with pytest.raises(InputError, match=r'7 rows, column force: found the run name "M4" for'):
        scaleup.translate(mixed, draws=200)
    pump = replace(marram.lab, press=find_press("lab-hand-pump"))
    with pytest.raises(InputError, match=r"lab\.loading_rate: found a loading rate of 5 kN/s"):
        scaleup.translate(replace(marram, lab=pump), draws=200)
    keyless = replace(pump, defaults=RunDefaults())
    with pytest.raises(InputError, match="column loading rate: found a loading rate of 5 kN/s"):
        scaleup.fit(replace(marram, lab=keyless), draws=200)


@pytest.mark.parametrize("name", ["marram", "dunlin", "sedge", "fescue", "bracken"])
def test_replicates_of_the_examples_are_far_from_the_bound(name: str) -> None:
    """Half of the allowed is what the worst of their replicates takes."""
    groups: dict[tuple[str, str], list[float]] = {}
    for run in read_study(EXAMPLES / name).lab.runs:
        groups.setdefault((run.press, run.name), []).append(run.force)
    for forces in groups.values():
        mean = sum(forces) / len(forces)
        assert max(abs(force / mean - 1.0) for force in forces) < 0.02
