"""Bench mode: what now, for how long, what cures meanwhile, and a big button. No price, quote or customer stands here."""
