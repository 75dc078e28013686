"""Verdicts in a bench worker's words: one line, the marks of measured and assumed values, what mattered."""

from __future__ import annotations

from decimal import Decimal

from estimator.fit.judge import forced_beyond
from estimator.model import Demand, Finding, Verdict

BACK = "cm3 at the back of the tremolo cavity"
#: a task in the words of a list of forced work: verb and thing counted (one, many)
SPOKEN = {
    "adjust-nut-slots": ("adjust", "nut slot", "nut slots"),
    "set-nut-height": ("set the height of", "nut", "nuts"),
    "adjust-truss-rod": ("adjust the truss rod", "", ""),
    "set-intonation": ("set the intonation of", "string", "strings"),
    "set-tremolo": ("set the tremolo", "", ""),
    "block-tremolo": ("block the tremolo", "", ""),
    "bush-tuner-hole": ("bush", "tuner hole", "tuner holes"),
    "clean-fret-slots": ("widen", "fret slot", "fret slots"),
    "dress-fret-ends": ("dress the ends of", "fret", "frets"),
    "drill-hole": ("drill", "hole", "holes"),
    "drill-neck-ferrules": ("bore", "ferrule seat", "ferrule seats"),
    "drill-string-through": ("drill", "string hole", "string holes"),
    "enlarge-control-hole": ("enlarge", "control hole", "control holes"),
    "enlarge-tremolo-cavity": ("take out", BACK, BACK),
    "fill-nut-slot": ("fill", "nut slot", "nut slots"),
    "fill-touch-up-chip": ("touch up", "place", "places"),
    "fit-jack": ("fit a switching jack", "", ""),
    "fit-mechanical-nut": ("work the nut to its seat", "", ""),
    "fit-neck-inserts": ("fit", "insert", "inserts"),
    "fit-pot": ("change", "pot", "pots"),
    "fit-preslotted-nut": ("work the nut to its seat", "", ""),
    "fit-string-ferrules": ("press", "string ferrule", "string ferrules"),
    "fit-string-tree": ("fit", "string tree", "string trees"),
    "fit-two-post-bushings": ("bore and press", "post bushing", "post bushings"),
    "ground-bridge": ("ground the bridge", "", ""),
    "layout-bridge": ("lay out the bridge", "", ""),
    "mount-bridge": ("ease the cavity with a chisel", "", ""),
    "open-guard-slot": ("open", "guard slot", "guard slots"),
    "plug-hole": ("plug", "hole", "holes"),
    "plug-small-hole": ("plug", "small hole", "small holes"),
    "ream-tuner-hole": ("ream", "tuner hole", "tuner holes"),
    "repair-crack": ("glue in a fitted block,", "cm of glue line", "cm of glue line"),
    "reseat-fret": ("reseat", "fret", "frets"),
    "route-cavity": ("route", "cm3", "cm3"),
    "seat-frets": ("glue in", "fret", "frets"),
    "shape-nut": ("work the nut to its seat", "", ""),
    "shim-neck": ("shim the neck", "", ""),
    "spot-level-fret": ("file", "high fret", "high frets"),
    "shim-nut": ("raise the nut on a shim", "", ""),
    "spray-coat": ("spray", "coat", "coats"),
    "true-board": ("true the board", "", ""),
}

#: so many assumed values are named at the end of a line
SHOWN = 4
#: what a rule adds to the one-line verdict though it forces no work
ADDED = {"R09"}


def forced(verdict: Verdict) -> tuple[Demand, ...]:
    """Work that fit forces beyond what the upgrade does anyway: the largest demand per task and place."""
    return forced_beyond(verdict.upgrade, verdict.findings)


def spoken(task: str, quantity: Decimal) -> str:
    """Work in words: ``plug 4 holes``, ``lay out the bridge``."""
    verb, one, many = SPOKEN.get(task, (task.replace("-", " "), "", "times"))
    amount = f"{quantity.normalize():f}"
    if not one and (not many or quantity == 1):
        return verb
    return f"{verb} {amount} {one if quantity == 1 else many}"


def one_line(verdict: Verdict) -> str:
    """The verdict in one line: ``fits``, ``fits after: ...`` or ``does not fit: ...``."""
    if verdict.outcome == "does-not-fit":
        refused = [f for f in verdict.findings if f.outcome == "no"]
        return f"does not fit: {'; '.join(dict.fromkeys(f.sentence for f in refused))}{_assumed(refused)}"
    work = forced(verdict)
    if not work:
        return "fits"
    totals: dict[str, Decimal] = {}
    for demand in work:
        totals[demand.task] = totals.get(demand.task, Decimal(0)) + demand.quantity
    said = dict.fromkeys(spoken(task, quantity) for task, quantity in totals.items())
    added = [
        f.sentence
        for f in verdict.findings
        if f.rule in ADDED and f.outcome in ("fits", "warn") and f.working
    ]
    tail = f" ({'; '.join(added)})" if added else ""
    decisive = [f for f in verdict.findings if any(d in f.demands for d in work)]
    return f"fits after: {', '.join(said)}{tail}{_assumed(decisive)}"


def _assumed(findings: list[Finding]) -> str:
    """The values behind these findings that nobody measured, as a mark at the end of the line."""
    names = list(dict.fromkeys(value.name for finding in findings for value in finding.assumed))
    if not names:
        return ""
    more = f" and {len(names) - SHOWN} more" if len(names) > SHOWN else ""
    return f" [assumed: {', '.join(names[:SHOWN])}{more}]"
