"""From runs to parameters: what was observed, the fit, and how much it can bear."""
