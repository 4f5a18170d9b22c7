"""From the fitted powder to settings of the production press, with limits, risks and a verdict."""
