"""The trial sheet: the planned runs with what they are predicted to give, and blanks to fill in."""
