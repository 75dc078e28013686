"""Words that more than one record accepts."""

OWN, OWN_MENU, MEASURED = "own", "own menu", "measured"
"""Bases of a shop's own numbers: typed in, fitted to its menu, learned from its ledger."""
BASES = ("published", "common-practice", "memory", "demo", OWN, OWN_MENU, MEASURED)
GRADES = ("economy", "standard", "premium")
JOB_KINDS = ("commission", "resale", "own")
NEVER_PROMISED = "resonance"
"""An attribute that is a matter of the player's words: never scored, priced or promised."""
