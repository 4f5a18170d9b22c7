"""The production trial: planned from the predictions, and learned from."""
