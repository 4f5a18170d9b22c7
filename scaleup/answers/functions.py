"""One answer in one call, for those who ask once; `scaleup.Analysis` answers several."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from scaleup.answers.analysis import Analysis, no_sign
from scaleup.calibration.arguments import check_answer
from scaleup.conversion import HasUnits
from scaleup.io.given import Number
from scaleup.model.study import Study

if TYPE_CHECKING:
    from scaleup.answers.comparison import Comparison, Press
    from scaleup.answers.imitation import Imitation
    from scaleup.answers.judgement import Judgement
    from scaleup.answers.speed import SpeedCheck
    from scaleup.answers.translation import Translation
    from scaleup.answers.trial.learning import Learned
    from scaleup.answers.trial.options import TrialOptions
    from scaleup.answers.trial.plan import TrialPlan
    from scaleup.answers.window import Window
    from scaleup.io.trial_sheet.reading import TrialSheet

Advance = Callable[[], None]


def translate(
    study: Study,
    *,
    speed: Number | None = None,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Translation:
    """Return the production settings that make a lab tablet again, and what could go wrong.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    speed
        Turret speed in rpm, the study's if absent.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> found = translate(read_study("examples/marram"), draws=300)
    >>> round(found.equivalent("pressure").settings.main_force.value)
    12028
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed, speed=speed)
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.translate(speed=speed)


def judge(
    study: Study,
    *,
    advance: Advance = no_sign,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Judgement:
    """Return whether a lab result may be transferred, and what to press next.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    advance
        Called after each of three stages, for a sign of progress.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> judge(read_study("examples/marram"), draws=300).verdict.answer
    'transferable with changes'
    """
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.judge(advance=advance)


def check_speed(
    study: Study,
    *,
    speed: Number | None = None,
    speeds: Sequence[Number] | HasUnits = (),
    advance: Advance = no_sign,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> SpeedCheck:
    """Return whether a turret speed is all right, and the curve over other speeds.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    speed
        Turret speed in rpm, the study's if absent.
    speeds
        More speeds in rpm, for the curve.
    advance
        Called after each speed of the curve, for a sign of progress.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> check_speed(read_study("examples/marram"), speed=60.0, draws=300).answer
    'yes with changes'
    """
    check_answer(study, confidence=confidence, draws=draws, seed=seed, speed=speed, speeds=speeds)
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.speed(at=speed, speeds=speeds, advance=advance)


def compare(
    study: Study,
    presses: Sequence[str | Press] = (),
    *,
    advance: Advance = no_sign,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Comparison:
    """Return production presses ranked by the output at which they keep every limit.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    presses
        Rotary presses that take the study's tooling, by id or as profiles; every known one that
        does if there are none.
    advance
        Called after each press, for a sign of progress.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> found = compare(read_study("examples/marram"), ["rotary-mid-19"], draws=300)
    >>> found.candidates[0].holds, found.candidates[0].output.value
    (True, 85500.0)
    """
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.compare(presses, advance=advance)


def operating_window(
    study: Study,
    *,
    cells: tuple[int, int] = (48, 24),
    margin: Number | None = None,
    advance: Advance = no_sign,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Window:
    """Return the window over the press's speeds and forces in which every limit holds.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    cells
        How many speeds and how many forces are mapped.
    margin
        Share by which force and speed may both be off at the recommended point, above 0 and up to
        0.5; the study's if absent.
    advance
        Called after each speed, for a sign of progress.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> found = operating_window(read_study("examples/marram"), cells=(6, 6), draws=300)
    >>> found.grid.shares.shape, found.centre is not None
    ((12, 6, 6), True)
    """
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.window(cells, margin=margin, advance=advance)


def imitate(
    study: Study,
    *,
    run: str | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Imitation:
    """Return lab settings that make a production result again, and what they cannot imitate.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    run
        Name of the production runs; needed if there are several.
    draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> found = imitate(read_study("examples/fescue"), run="P2", draws=300)
    >>> len(found.can) > 0, len(found.cannot) > 0
    (True, True)
    """
    analysis = Analysis(study, draws=draws, seed=seed, as_given=as_given)
    return analysis.imitate(run)


def plan_trial(
    study: Study,
    *,
    options: TrialOptions | None = None,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> TrialPlan:
    """Return the plan of a production trial at the study's press and speed.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    options
        Tablets to sample, minutes and hold-up of powder.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study
    >>> plan_trial(read_study("examples/marram"), draws=300).runs[0].name
    'T1'
    """
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.plan_trial(options)


def learn(
    study: Study,
    sheet: TrialSheet,
    *,
    confidence: Number | None = None,
    draws: int = 4000,
    seed: int = 1,
    as_given: bool = False,
) -> Learned:
    """Return what the filled rows of a trial sheet teach, at the speed the trial was planned for.

    Parameters
    ----------
    study
        As `scaleup.read_study` or `scaleup.study_from` returns it.
    sheet
        As `scaleup.read_trial_sheet` returns it; partly filled is fine.
    confidence, draws, seed, as_given
        As in `scaleup.Analysis`.

    Raises
    ------
    InputError
        As `scaleup.Analysis` and its method do.

    Examples
    --------
    >>> from scaleup import read_study, read_trial_sheet
    >>> sheet = read_trial_sheet("examples/marram/trial-sheet.csv")
    >>> learn(read_study("examples/marram"), sheet, draws=300).moved[0].name
    'rate exponent'
    """
    analysis = Analysis(study, confidence=confidence, draws=draws, seed=seed, as_given=as_given)
    return analysis.learn(sheet)
