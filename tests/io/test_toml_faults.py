"""What is said of a file that is no sound TOML, and of keys that are wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from scaleup.errors import InputError
from scaleup.io.profile_files import list_presses, read_press, read_tooling
from scaleup.io.toml import read_toml
from scaleup.io.writing import write_whole

ROOT = Path(__file__).parents[2]


def told(path: Path, content: bytes) -> str:
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_toml(path, "mine.toml")
    return str(caught.value)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            b"a = 1\nb = \n",
            (
                "mine.toml: line 2: found a line that is not TOML (invalid value); allowed: "
                'key = "value" lines under [table] headings. Check quotation marks, brackets and '
                "keys written twice on or before this line."
            ),
        ),
        (b"a = 1\na = 2\n", "mine.toml: line 2: found a line that is not TOML (cannot overwrite"),
        (b'a = "\n', "mine.toml: line 1: found a line that is not TOML (illegal character"),
        (
            b"a = 1\nb = '\xff'\n",
            (
                "mine.toml: line 2: found a character that is not UTF-8; allowed: text in UTF-8. "
                "Save the file again with the encoding UTF-8."
            ),
        ),
        (b"a = " + b"1" * 5000, "found a line that is not TOML (exceeds the limit"),
        (b"a = " + b"[" * 5000, "mine.toml: found tables nested too deep; allowed: up to 8 levels"),
        (b"a.b.c.d.e.f.g.h.i.j = 1", "mine.toml: found tables nested too deep"),
        (b"#" * 1_000_001, "mine.toml: found 1.0 MB; allowed: up to 1 MB"),
    ],
    ids=["value", "twice", "quotes", "encoding", "digits", "brackets", "dots", "size"],
)
def test_a_damaged_file_is_told_by_line(tmp_path: Path, content: bytes, said: str) -> None:
    assert said in told(tmp_path / "x.toml", content)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_toml(path) == {"a": 1}


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found no such file; allowed: a file that exists"):
        read_toml(tmp_path / "none.toml")
    with pytest.raises(InputError, match="found a folder; allowed: a file"):
        read_toml(tmp_path)


def press_with(tmp_path: Path, id_: str, *changes: tuple[str, str]) -> Path:
    return changed(tmp_path, ROOT / "profiles" / "presses" / f"{id_}.toml", changes)


def tooling_with(tmp_path: Path, id_: str, *changes: tuple[str, str]) -> Path:
    return changed(tmp_path, ROOT / "profiles" / "tooling" / f"{id_}.toml", changes)


def changed(tmp_path: Path, source: Path, changes: tuple[tuple[str, str], ...]) -> Path:
    text = source.read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / source.name
    path.write_text(text)
    return path


ROTARY, HYDRAULIC, HAND = "rotary-mid-19", "lab-hydraulic", "lab-hand-pump"

PRESSES = [
    (ROTARY, 'pitch_circle = "317 mm"', "pitch_circle = 290",
     ('pitch_circle: found 290, a number without a unit; allowed: a length with its unit, such as '
     '"10 mm". Write it in quotation marks with its unit: "10 mm".')),
    (ROTARY, 'pitch_circle = "317 mm"', "pitch_circle = 0x" + "f" * 5000,
     "pitch_circle: found an absurdly large number, a number without a unit"),
    (ROTARY, "pitch_circle =", "pitch_cirle =",
     'pitch_cirle: found the unknown key "pitch_cirle"; allowed: the keys '),
    (ROTARY, "pitch_circle =", "pitch_cirle =", "Did you mean pitch_circle?"),
    (ROTARY, 'radius = "106 mm"', 'radios = "106 mm"',
     ('main_roller.radios: found the unknown key "radios"; allowed: the keys force_limit, radius '
     "in main_roller. Did you mean radius?")),
    (ROTARY, "stations = 19", 'stations = "16"',
     'stations: found "16"; allowed: a whole number without quotation marks, such as 16'),
    (ROTARY, "stations = 19", "stations = 0", "stations: found 0; allowed: at least 1"),
    (ROTARY, "stations = 19", "stations = 201", "stations: found 201; allowed: at most 200"),
    (ROTARY, "stations = 19", "stations = 100",
     "stations: found 100 stations on a pitch circle of 317 mm; allowed: at least 10 mm"),
    (ROTARY, "stations = 19\n", "",
     ("stations: found nothing; allowed: a whole number without quotation marks, such as 16, at "
     "least 1, at most 200. Add the key stations.")),
    (ROTARY, 'feed = "forced"\n', "",
     'feed: found nothing; allowed: "hand", "gravity" or "forced". Add the key feed.'),
    (ROTARY, 'accepts = ["B"]\n', "",
     ('accepts: found nothing; allowed: a list of the tooling standards that fit, such as '
     '["B", "D"]. Add the key accepts.')),
    (ROTARY, 'name = "Heron 19-station press"\n', "",
     'name: found nothing; allowed: text in quotation marks, such as "text". Add the key name.'),
    (ROTARY, "[main_roller]\nradius = \"106 mm\"\nforce_limit = \"72 kN\"\n", "",
     "main_roller: found nothing; allowed: the table [main_roller]. Add the key main_roller."),
    (ROTARY, "feed =", "colour =",
     "in top of the file. Rename it to the one that is meant, or remove it."),
    (ROTARY, 'force_limit = "72 kN"\n', "",
     ('main_roller.force_limit: found nothing; allowed: a force with its unit, such as "60 kN". '
     "Add the key force_limit.")),
    (ROTARY, 'min = "10 rpm"', 'min = "100 rpm"',
     "speed: found min 100 above max 75; allowed: min not above max"),
    (ROTARY, '"106 mm"', '"330 mm"',
     "main_roller.radius: found a roller radius of 330 mm on a pitch circle of 317 mm"),
    (ROTARY, '"106 mm"', '"0 mm"', 'radius: found "0 mm"; allowed: a length above zero'),
    (ROTARY, '"106 mm"', '"9 km"', 'radius: found "9 km"; allowed: 10 to 500 mm'),
    (ROTARY, '"74 deg"', '"400 deg"', 'roller_spacing: found "400 deg"; allowed: 5 to 355 deg'),
    (ROTARY, 'feed = "forced"', "feed = 3",
     'feed: found 3; allowed: "hand", "gravity" or "forced"'),
    (ROTARY, 'accepts = ["B"]', "accepts = []",
     "accepts: found a list of 0; allowed: a list of the tooling standards that fit, such as"),
    (ROTARY, 'accepts = ["B"]', 'accepts = "B"',
     'accepts: found "B"; allowed: a list of the tooling standards that fit, such as ["B", "D"]'),
    (ROTARY, 'name = "', 'name = "\\u001b[2J',
     'name: found "\\x1b[2JHeron 19-station press"; allowed: a name of 1 to 120 printable'),
    (ROTARY, 'name = "', 'name = "\\u202e', "name: found"),
    (ROTARY, 'description = "', 'description = "\\u0000', "description: found"),
    (ROTARY, '"scaleup press 1"', '"scaleup press 2"',
     'format: found "scaleup press 2"; allowed: "scaleup press 1"'),
    (ROTARY, 'format = "scaleup press 1"\n', "",
     'format: found nothing; allowed: "scaleup press 1". Begin the file with format'),
    (ROTARY, '"rotary"', '"rotery"',
     ('kind: found the unknown kind "rotery"; allowed: "hydraulic", "eccentric", "rotary", '
     '"recorded". Did you mean rotary?')),
    (ROTARY, 'kind = "rotary"', 'kind = ["rotary"]', "kind: found the unknown kind"),
    (ROTARY, 'pitch_circle = "317 mm"\n', "",
     ("found no pitch_circle, and no stated and no stated.punch_velocity; allowed: pitch_circle, "
     "its diameter, and main_roller.radius, or the table stated with")),
    ("rotary-stated-17", 'at_travel = "2 mm"\n', "",
     "stated: found punch_velocity without at_travel; allowed: both or neither"),
    ("rotary-stated-17", 'dwell_time = "11.98 ms"', 'dwell_time = "1 s"',
     "stated.dwell_time: found 1000 ms at 50 rpm; allowed: less than half a turn, 600 ms"),
    (HYDRAULIC, 'loading_rate = "5 kN/s"\n', "",
     "found neither of loading_rate and pump; allowed: one of the two"),
    (HYDRAULIC, 'loading_rate = "5 kN/s"', 'loading_rate = "50 kN/s"',
     "loading_rate: found 50 kN/s; allowed: a rate within loading_rates, 0.5 to 20 kN/s"),
    (HAND, "automatic_release = true", 'automatic_release = true\nhold = {min="0 s", max="5 s"}',
     "hold: found a hold of up to 5 s on a press with automatic_release"),
    (HAND, "automatic_release = true", 'automatic_release = "yes"',
     'automatic_release: found "yes"; allowed: true or false, without quotation marks'),
    ("lab-eccentric", '"160 mm"', '"15 mm"',
     "link_length: found a link of 15 mm on a crank of 20 mm; allowed: a link longer than"),
]  # fmt: skip


@pytest.mark.parametrize(("id_", "old", "new", "said"), PRESSES)
def test_what_is_said_of_a_press(tmp_path: Path, id_: str, old: str, new: str, said: str) -> None:
    path = press_with(tmp_path, id_, (old, new))
    with pytest.raises(InputError) as caught:
        read_press(path, "mine.toml")
    assert "mine.toml: " in str(caught.value)
    assert said in str(caught.value)


TOOLING = [
    ("b-flat-10", 'diameter = "10 mm"\n', "",
     'found no diameter; allowed: diameter for the shape "round flat"'),
    ("b-flat-10", 'diameter = "10 mm"', 'diameter = "10 mm"\ncup_depth = "1 mm"',
     "shape: found a cup on a flat tip; allowed: no cup_depth and no cup_volume. Remove them"),
    ("b-convex-10", 'cup_depth = "0.9 mm"\n', "",
     "cup_depth: found no cup_depth; allowed: the depth of one cup"),
    ("b-convex-10", '"0.9 mm"', '"6 mm"',
     "cup_depth: found 6 mm; allowed: not above half the short axis, 5 mm"),
    ("d-elongated-19", 'cup_volume = "126 mm^3"\n', "",
     "cup_volume: found one of cup_depth and cup_volume; allowed: both for an elongated cup"),
    ("d-elongated-19", '"126 mm^3"', '"252 mm^3"',
     "cup_volume: found 252 mm^3; allowed: below tip area times cup depth, 204.393 mm^3"),
    ("d-elongated-19", 'length = "19 mm"', 'length = "8 mm"',
     "width: found a width of 8.5 mm and a length of 8 mm; allowed: a width below the length"),
    ("d-elongated-19", 'length = "19 mm"', 'length = "19 mm"\ndiameter = "9 mm"',
     'found diameter; allowed: no diameter for the shape "elongated"'),
    ("b-flat-10", 'head_edge_radius = "15.9 mm"\n', "",
     "head_edge_radius: found no head_edge_radius; allowed: all of head_flat, head_edge_radius"),
    ("b-flat-10", 'modulus = "210 GPa"\n', "", "modulus: found no modulus; allowed: all of"),
    ("b-flat-10", 'head_flat = "9.5 mm"', 'head_flat = "25 mm"',
     "head_flat: found a head flat of 25 mm on a head of 25 mm; allowed: a head flat below"),
    ("b-flat-10", '"round flat"', '"square"',
     'shape: found "square"; allowed: "round flat", "round convex" or "elongated"'),
]  # fmt: skip


@pytest.mark.parametrize(("id_", "old", "new", "said"), TOOLING)
def test_what_is_said_of_tooling(tmp_path: Path, id_: str, old: str, new: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_tooling(tooling_with(tmp_path, id_, (old, new)), "mine.toml")
    assert said in str(caught.value)


def test_a_file_that_cannot_be_read_is_listed_with_its_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "presses").mkdir()
    (tmp_path / "presses" / "broken.toml").write_text("a = \n")
    monkeypatch.setenv("SCALEUP_PROFILES", str(tmp_path))
    rows = {row.id: row for row in list_presses()}
    assert rows["broken"].reason == "line 1: a line that is not TOML (invalid value)"
    assert rows["lab-hydraulic"].reason == ""


def test_a_wrong_profile_folder_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SCALEUP_PROFILES", str(tmp_path / "none"))
    with pytest.raises(
        InputError, match=r"SCALEUP_PROFILES: found .*, which is no folder; allowed"
    ):
        list_presses()


def test_a_folder_is_not_overwritten(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found a folder; allowed: the name of a file"):
        write_whole(tmp_path, "x", force=True)
    for nameless in ("/", "."):
        with pytest.raises(InputError, match="found a folder; allowed: the name of a file"):
            write_whole(Path(nameless), "x", force=True)
