"""Living with a plan: requests, repairs, explanations."""
