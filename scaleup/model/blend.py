"""What is compressed: a blend by its true density, or by the components it follows from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from scaleup.errors import field_fault
from scaleup.model.checked import Checked
from scaleup.model.fields import Density, Name, Share, keyed

SHARE_TOLERANCE = 0.005
Hardening = Literal["heckel", "kuentz-leuenberger", "kawakita"] | None
"""The one hardening form to fit; None averages over all."""


def mixed_density(shares: Sequence[Any], densities: Sequence[Any]) -> Any:
    """Return the true density of a mixture, ``1/rho = sum(w_i / rho_i)`` over whole shares.

    >>> round(mixed_density([0.7, 0.3], [1.55, 1.54]), 4)
    1.547
    """
    volume = sum(share / density for share, density in zip(shares, densities, strict=True))
    return sum(shares) / volume


@dataclass(frozen=True, kw_only=True)
class Component(Checked):
    """One component of the blend, its true density in mg/mm³."""

    name: Name
    share: Share
    true_density: Density | None = None
    material: Name | None = None


@dataclass(frozen=True, kw_only=True)
class Blend(Checked):
    """The blend: its true density in mg/mm³, or the components it follows from.

    Examples
    --------
    >>> Blend(stated_true_density=1.54).true_density
    1.54
    """

    stated_true_density: Density | None = keyed("true_density")  # noqa: RUF009  a field
    rate_material: Name | None = None
    """The published material whose rate sensitivity the blend may borrow."""
    hardening: Hardening = None
    components: tuple[Component, ...] = field(default=(), metadata={"key": "component"})

    @property
    def density_from_components(self) -> bool:
        """Return whether the true density follows from the components instead of being stated."""
        return self.stated_true_density is None

    @property
    def true_density(self) -> float:
        """Return mg/mm³, stated or of the components mixed."""
        if self.stated_true_density is not None:
            return self.stated_true_density
        shares = [part.share for part in self.components]
        densities = [part.true_density or 0.0 for part in self.components]
        return float(mixed_density(shares, densities))

    def check(self) -> None:
        """Refuse a blend of unknown density, or of shares that are not the whole."""
        self._density_known()
        self._shares_are_whole()
        self._names_differ()

    def _density_known(self) -> None:
        bare = [part.name for part in self.components if part.true_density is None]
        if self.stated_true_density is None and (bare or not self.components):
            lacking = f" and none for {', '.join(bare)}" if bare else " and no components"
            raise field_fault(
                f"no true_density{lacking}",
                "the true density of the blend, or of every component",
                'Add true_density = "1.54 g/cm^3", measured by gas pycnometry.',
            )

    def _shares_are_whole(self) -> None:
        whole = sum(part.share for part in self.components)
        if self.components and abs(whole - 1.0) > SHARE_TOLERANCE + 1e-12:
            raise field_fault(
                f"shares that sum to {whole * 100:.4g} %",
                "shares that sum to 100 %, within 0.5 %",
                where="component",
            )

    def _names_differ(self) -> None:
        names = [part.name for part in self.components]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise field_fault(f"{', '.join(twice)} twice", "each component once", where="component")
