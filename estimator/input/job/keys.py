"""The sections of a job file; their keys stand beside the fields of the records that they are read to.

Both drive reading and the generated reference.
"""

from __future__ import annotations

from msgspec import Struct

from estimator.model import Budget, Job, JobTerms, Labels, Outline, Part, SaleTerms
from estimator.model.column import Column, section_of


class Section(Struct, frozen=True):
    """One section of a job file; ``repeated`` ones are written ``[[name]]``, once per thing.

    ``records``: whose fields are read from it. ``open_keys`` says in words which further keys are accepted (intake
    fields, dimensions of parts).
    """

    name: str
    meaning: str
    records: tuple[type[Struct], ...] = ()
    repeated: bool = False
    open_keys: str = ""

    @property
    def columns(self) -> tuple[Column, ...]:
        """The keys, in the order of the fields that they are read to."""
        return tuple(column for record in self.records for _, column in section_of(record, self.name))


JOB = Section("job", "what the job is called and for whom it is", (Job, Labels))
INSTRUMENT = Section(
    "instrument",
    'what was measured and seen; whatever is left out (or written "unknown") has the default of intake.csv',
    (Job,),
    open_keys='every field of intake.csv, as a plain number in its unit or with a unit: "5/8 in", "2.25 lb"',
)
WISH = Section("wish", "what the instrument is to come to", (Job,))
BUDGET = Section("budget", "what it may take", (Budget,))
PART = Section(
    "part",
    "a particular part that is considered, as measured; what is left out is taken from parts.csv and"
    " part_dimensions.csv and counts as typical, not measured",
    (Part,),
    repeated=True,
    open_keys="weight_g, and every dimension that part_dimensions.csv declares for its class, with units",
)
UPGRADES = Section(
    "upgrades",
    "which upgrades are open to choice: ids of upgrades.csv (all variants), or id-variant for one of them",
    (Job,),
)
STOCK = Section(
    "stock",
    "what the shop has already: each piece is used once, and not bought again",
    open_keys="ids of parts (of parts.csv or this job) and consumables (strings by the set) = quantity in their unit",
)
METHODS = Section(
    "methods",
    "which way tasks are done; what is left out is chosen",
    (Job,),
    open_keys="id of a task of task_methods.csv = the way it is to be done",
)
TERMS = Section("terms", "what differs from shop.toml on this job", (JobTerms,))
RESALE = Section("resale", "how an instrument was bought and is to be sold (kind resale)", (SaleTerms,))
OUTLINE = Section(
    "outline",
    "the edge of a guard or of a headstock, to be drawn and cut by",
    (Outline,),
    repeated=True,
    open_keys="points, the edge in order, and holes, the middles of screw holes: lists of [across, along] in mm,"
    " across from the centre line (left of it less than 0), along away from the neck",
)
OUTLINE_POINTS = ("points", "holes")
SECTIONS: tuple[Section, ...] = (
    JOB,
    INSTRUMENT,
    WISH,
    BUDGET,
    PART,
    OUTLINE,
    UPGRADES,
    STOCK,
    METHODS,
    TERMS,
    RESALE,
)
