"""Logged force against time: every compression found and measured."""
