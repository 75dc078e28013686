"""Tables of what makes an instrument what it is, and who may change it."""

from __future__ import annotations

from estimator.tables.schema.column import Column, TableSpec, _id, _list, _ref, _table, _text, _when

LASTING_TABLES: tuple[TableSpec, ...] = (
    _table(
        "changes",
        "what makes an instrument what it is, and stays unless it is asked for; what is given up sooner comes first",
        "id",
        _id("word for it, in upgrades.csv and in may_change of a job"),
        _text("what", "what it is, as it follows “only by changing”"),
        _text("told", "what a customer reads who is to agree to the change (blank: nothing)", ""),
    ),
    _table(
        "lasting_work",
        "a task that changes something for good, whatever upgrade or fit rule asks for it",
        "task",
        _ref("task", "tasks", "the task"),
        _list("changes", "what it changes for good", "changes"),
        _when(),
    ),
    _table(
        "asking_wishes",
        "an attribute whose wish, where it is not met yet, asks for changes by the upgrades that raise it",
        "attribute",
        _ref("attribute", "attributes", "the attribute"),
        _list("changes", "the changes that such a wish asks for", "changes"),
    ),
    _table(
        "customer_keeps",
        "a customer's word for what is to be kept (keeps of a job), and what it forbids",
        "id",
        _id("the word"),
        _text("what", "what is wanted, as the customer would say it"),
        Column("words", "list", "other words that a customer has for it, parted by blanks", default=()),
        _list("changes", "changes that it forbids", "changes"),
        _list("upgrades", "upgrades that it forbids", "upgrades"),
        _list("work", "tasks that it forbids, whatever upgrade or fit rule asks for them", "tasks"),
    ),
)
