"""Tools that are not there: what is got for a set, and what would pay if it were."""

from __future__ import annotations

from estimator.core.amounts import Cents
from estimator.estimate.tools.to_get import Got, ToolsGot
from estimator.report.record import Record, Teller

_saving = Teller[tuple[Got, Cents]]()
_tool = Teller[Got]()
_tools = Teller[ToolsGot]()


class ToolGot(Record[Got]):
    """A tool that is got."""

    what = _tool.text("in words", lambda of: of.what)
    tools = _tool.words("tools, ids of tools.csv", lambda of: of.tools)
    rented_for = _tool.text("day or the like; none where it is bought", lambda of: of.rented or None)
    money = _tool.money("what that takes", lambda of: of.cents)


class ToolNotGot(Record[tuple[Got, Cents]]):
    """A tool that is worked around."""

    tool = _saving.joined(ToolGot, lambda of: of[0])
    would_save = _saving.money("what one such job would cost less with it", lambda of: of[1])


class Tools(Record[ToolsGot]):
    """What is got of the tools that are not there; the sums of the set do not hold it."""

    tools_got = _tools.rows(ToolGot, "tools that are got for it", lambda of: of.got)
    cost_without_them = _tools.money(
        "cost of the best set that gets nothing", lambda of: of.around if of.got else None
    )
    tools_not_got = _tools.rows(ToolNotGot, "tools that are worked around", lambda of: of.more)
