"""Reading what the user gives: studies, run tables, press, tooling and material data."""
