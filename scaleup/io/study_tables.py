"""The tables of ``study.toml``."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from scaleup.io.quantities import (
    Density,
    Description,
    FieldFault,
    Force,
    ForceRate,
    Mass,
    Name,
    Output,
    Part,
    Pressure,
    Share,
    ShareRange,
    Speed,
    TimeOrZero,
)

SHARE_TOLERANCE = 0.005
MARGIN, LARGEST_MARGIN = 0.10, 0.50
"""Share by which force and speed may both be off at a recommended point, where the study states
none (a judgement of this program), and the largest that may be asked for."""


class ComponentTable(Part):
    """One component of the blend."""

    name: Name
    share: Share
    true_density: Density | None = None
    material: Name | None = None


class BlendTable(Part):
    """The blend: its true density, or the components it follows from."""

    stated_true_density: Density | None = Field(default=None, alias="true_density")
    rate_material: Name | None = None
    hardening: Literal["heckel", "kuentz-leuenberger", "kawakita"] | None = None
    component: tuple[ComponentTable, ...] = ()

    @property
    def true_density(self) -> float:
        """Return mg/mm³, stated or by ``1/rho = sum(w_i / rho_i)`` of the components."""
        if self.stated_true_density is not None:
            return self.stated_true_density
        parts = [(part.share, part.true_density) for part in self.component]
        whole = sum(share for share, _ in parts)
        return whole / sum(share / density for share, density in parts if density)

    @model_validator(mode="after")
    def _density_known(self) -> BlendTable:
        bare = [part.name for part in self.component if part.true_density is None]
        if self.stated_true_density is None and (bare or not self.component):
            lacking = f" and none for {', '.join(bare)}" if bare else " and no components"
            raise FieldFault(
                f"no true_density{lacking}",
                "the true density of the blend, or of every component",
                'Add true_density = "1.54 g/cm^3", measured by gas pycnometry.',
            )
        return self

    @model_validator(mode="after")
    def _shares_are_whole(self) -> BlendTable:
        whole = sum(part.share for part in self.component)
        if self.component and abs(whole - 1.0) > SHARE_TOLERANCE + 1e-12:
            raise FieldFault(
                f"shares that sum to {whole * 100:.4g} %",
                "shares that sum to 100 %, within 0.5 %",
                where="component",
            )
        return self

    @model_validator(mode="after")
    def _names_differ(self) -> BlendTable:
        names = [part.name for part in self.component]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise FieldFault(f"{', '.join(twice)} twice", "each component once", where="component")
        return self


class LabTable(Part):
    """The lab press, its tooling and its runs."""

    press: Name
    tooling: Name
    runs: Name
    reference: Name | None = None
    loading_rate: ForceRate | None = None
    hold: TimeOrZero | None = None
    speed: Speed | None = None


class ProductionTable(Part):
    """The production press asked about."""

    press: Name
    tooling: Name
    speed: Speed
    precompression: Share | None = None


class TargetTable(Part):
    """What the tablet must be, in MPa, N, mg and shares, and how many are wanted per hour."""

    strength: Pressure | None = None
    breaking_force: Force | None = None
    solid_fraction: ShareRange = ShareRange.model_validate({"min": "80 %", "max": "90 %"})
    weight: Mass | None = None
    output: Output | None = None
    """Tablets per hour, at least."""
    confidence: Share = 0.90
    margin: Share = MARGIN
    """Share by which force and speed may both be off at the recommended point."""

    @property
    def states_solid_fraction(self) -> bool:
        """Return whether the study states the window of the solid fraction."""
        return "solid_fraction" in self.model_fields_set

    @property
    def states_confidence(self) -> bool:
        """Return whether the study states the confidence."""
        return "confidence" in self.model_fields_set

    @model_validator(mode="after")
    def _one_strength(self) -> TargetTable:
        if self.strength is not None and self.breaking_force is not None:
            raise FieldFault(
                "both strength and breaking_force",
                "one of the two",
                "Remove the one that follows from the other.",
            )
        return self

    @model_validator(mode="after")
    def _confidence_is_one(self) -> TargetTable:
        if not 0.5 <= self.confidence < 1.0:
            raise FieldFault(
                f"{self.confidence * 100:g} %", "50 % up to below 100 %", where="confidence"
            )
        return self

    @model_validator(mode="after")
    def _margin_is_small(self) -> TargetTable:
        if self.margin > LARGEST_MARGIN:
            raise FieldFault(
                f"{self.margin * 100:g} %", f"up to {LARGEST_MARGIN * 100:g} %", where="margin"
            )
        return self


class StudyTable(Part):
    """The whole of ``study.toml``."""

    format: Literal["scaleup study 1"]
    name: Name
    description: Description = ""
    blend: BlendTable
    lab: LabTable
    production: ProductionTable
    target: TargetTable = TargetTable()
