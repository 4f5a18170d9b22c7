"""The questions a study answers, one module each, and the analysis they share."""
