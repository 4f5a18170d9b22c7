"""The fitted parameters of a powder as quantities."""

from __future__ import annotations

from scaleup.evidence.fit import Fit
from scaleup.transfer.quantity import Quantity, drawn


def powder_quantities(fit: Fit) -> list[tuple[str, Quantity, str]]:
    """Return name, quantity and shown unit of every fitted parameter."""
    rows = [(name, drawn(draws, unit), unit) for name, draws, unit in fit.powder.hardening.named()]
    rows.append(("m", drawn(fit.powder.rate_exponent, "1"), ""))
    rows.append(("K", drawn(fit.powder.elastic, "MPa"), "MPa"))
    if fit.strength is not None:
        rows.append(("sigma_0", drawn(fit.strength.strength_of_solid, "MPa"), "MPa"))
        rows.append(("b", drawn(fit.strength.porosity_exponent, "1"), ""))
    return [(name, quantity, "" if unit == "1" else unit) for name, quantity, unit in rows]
