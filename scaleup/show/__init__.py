"""Results as people and programs read them: terminal, JSON, CSV, notebook."""
