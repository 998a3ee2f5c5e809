"""Living with a plan: what changed, what to change, and what to change to."""
