"""What could go wrong, one function for each finding; every module here is searched for them."""

from __future__ import annotations

from scaleup.transfer.risks.registry import Case, Risk, all_risks, standing_risks

__all__ = ["Case", "Risk", "all_risks", "standing_risks"]
