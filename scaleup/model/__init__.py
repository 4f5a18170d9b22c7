"""A study as plain frozen objects, and a value with its band."""
