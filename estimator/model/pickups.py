"""Where pickups sit, and what their slots and places of work are called."""

PICKUPS = ("neck", "middle", "bridge")
"""The places of pickups, from the neck on: so the fields of the intake end."""
_SLOT = "pickup-"


def pickup_slot(place: str) -> str:
    """The slot of the pickup at a place, and what that place of work is called."""
    return f"{_SLOT}{place}"


def pickup_at(slot: str) -> str:
    """The place of the pickup that a slot is for; blank where it is for anything else."""
    return slot.removeprefix(_SLOT) if slot.startswith(_SLOT) else ""
