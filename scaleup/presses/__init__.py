"""How each kind of press moves its punches, and how long it keeps them there."""
