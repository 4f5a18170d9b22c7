"""What could go wrong, one function for each finding; every module here is searched for them."""

from __future__ import annotations

from scaleup.transfer.risks.registry import Risk, all_risks, standing_risks

__all__ = ["Risk", "all_risks", "standing_risks"]
