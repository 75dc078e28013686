"""The shop's own numbers in place of the default ones: shown first, taken over when asked to, taken back."""
