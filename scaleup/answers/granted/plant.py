"""What lies between lab and plant and no input states."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from scaleup.answers.assumed import Granted, Other
from scaleup.answers.granted.scene import Scene, on_process
from scaleup.calibration.plant.plant import plant_of
from scaleup.transfer.about import About
from scaleup.transfer.process_model import ProcessModel

TWICE = 2.0
"""Times its spread with which a term is asked about again."""
ABOUT: dict[str, About] = {"shear": "feeder on strength"}


def terms(scene: Scene) -> Iterator[Granted]:
    """Yield every term that is assumed, asked about again with twice its spread."""
    fit = scene.fit
    if fit is None:
        return
    weight = scene.calibrated.weight.value or fit.plant.lab_weight
    for term in plant_of(scene.study, scene.production, fit.plant, weight).terms:
        if term.grade == "assumed":
            other = Other("twice that spread", on_process(_wider(term.name)))
            about = ABOUT.get(term.name, "")
            yield Granted(f"transfer: {term.label}", term.told, "default", (other,), about)


def _wider(name: str) -> Callable[[ProcessModel], ProcessModel]:
    def wider(process: ProcessModel) -> ProcessModel:
        return process.with_plant(process.plant.shrunk(name, TWICE))

    return wider
