"""The fitted parameters of a powder as quantities."""

from __future__ import annotations

from scaleup.calibration.fit import Fit, FormShare
from scaleup.calibration.form_weights import LEAST
from scaleup.model.estimate import Estimate, drawn
from scaleup.show.numbers import band_text, value_text
from scaleup.wording import percent


def powder_quantities(fit: Fit) -> list[tuple[str, Estimate, str]]:
    """Return name, quantity and shown unit of every fitted parameter."""
    rows = [(name, drawn(draws, unit), unit) for name, draws, unit in fit.powder.hardening.named()]
    rows.append(("m", drawn(fit.powder.rate_exponent, "1"), ""))
    rows.append(("K", drawn(fit.powder.elastic, "MPa"), "MPa"))
    if fit.strength is not None:
        rows.append(("sigma_0", drawn(fit.strength.strength_of_solid, "MPa"), "MPa"))
        rows.append(("b", drawn(fit.strength.porosity_exponent, "1"), ""))
    return [(name, quantity, "" if unit == "1" else unit) for name, quantity, unit in rows]


def forms_text(fit: Fit) -> str:
    """Return the hardening forms with their weights, best first."""
    if len(fit.forms) == 1:
        return f"{fit.forms[0].name}, fixed in the study"
    return ", ".join(f"{each.name} {_weight(each)}" for each in fit.forms)


def relaxation_text(fit: Fit) -> str:
    """Return what logged holds say of the rate exponent beside the fit; "" without such holds."""
    holds = fit.relaxation
    if holds is None:
        return ""
    word = "in conflict" if holds.conflict else "in agreement"
    here, there = (
        f"{value_text(each)} ({band_text(each)})"
        for each in (drawn(holds.exponent, "1"), drawn(holds.fitted, "1"))
    )
    return f"; relaxation of logged holds gives {here}, {word} with {there}"


def _weight(form: FormShare) -> str:
    """Return a weight no closer to all or nothing than forms are told apart."""
    if not form.drawn:
        return f"below {percent(LEAST)}"
    most = 1.0 - LEAST
    return f"above {100.0 * most:.1f} %" if form.weight > most else percent(form.weight)
