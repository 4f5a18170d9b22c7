"""Whether a blend has a lubricant, by the names of its components."""

from __future__ import annotations

from scaleup.model.study import Study

LUBRICANTS = ("stearate", "stearic", "stearyl", "behenate", "talc", "hydrogenated")
"""What the names of usual lubricants contain (common practice)."""


def lubricated(study: Study) -> bool:
    """Return whether the blend is lubricated; a blend without named components is taken to be.

    >>> from scaleup import read_study
    >>> lubricated(read_study("examples/marram"))
    True
    """
    stated = study.transfer.lubricated
    if stated is not None:
        return stated
    names = [part.name.lower() for part in study.blend.components]
    return not names or any(word in name for name in names for word in LUBRICANTS)
