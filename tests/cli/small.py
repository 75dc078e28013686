"""A job with little open, and a batch of it alone: for tests of what is written, where the answer is not the point."""

SMALL_JOB = """\
[job]
id = "plain"
kind = "commission"
customer = "Player"
[instrument]
kind = "guitar-solid"
[wish]
require = { action = 2 }
[upgrades]
open = ["set-up", "clean-controls"]
"""
SMALL_BATCH = """\
[batch]
id = "one"
start = 2026-10-05
[[person]]
id = "bench"
skill = 4
[[job]]
id = "a"
file = "plain.toml"
due = 2026-10-16
"""
