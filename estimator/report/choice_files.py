"""What ``choose`` tells and writes: the choice with its further answers, the programme, the frontier drawn."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.choose.questions.all import PostOptimality
from estimator.choose.questions.ask import model_file
from estimator.choose.study import Choice, Study
from estimator.core.save import Output, check_target, save_all
from estimator.report.text import brief, packs
from estimator.report.text import choice as choice_text
from estimator.report.text import questions as questions_text
from estimator.report.text.terminal import put
from estimator.report.words.tools import tool_lines


def show(choice: Choice, further: PostOptimality, full: bool = True) -> None:
    """As text, in short or all of it; what was asked for besides is told either way."""
    (choice_text if full else brief).show_choice(choice)
    put(*tool_lines(choice))
    packs.show(choice)
    questions_text.show(choice, further)


class ChoiceFiles(Struct):
    """The programme (``.lp`` or ``.mps``) and the frontier (``.svg``): both are written or neither.

    Without a drawing the programme is written before anything is solved, so that a choice that takes too
    long can be looked into.
    """

    model: str | None
    svg: str | None
    quiet: bool

    def begin(self, study: Study, aim: str) -> None:
        """Check that all can be written; InputError else."""
        for path, endings in ((self.model, (".lp", ".mps")), (self.svg, (".svg",))):
            if path:
                check_target(path, force=True, extensions=endings)
        if not self.svg:
            self._save(*self._programme(study, aim))

    def end(self, choice: Choice, further: PostOptimality) -> None:
        """Write the drawing, and the programme with it."""
        if self.svg:
            files, told = self._programme(choice.open_study, choice.answer.aim)
            drawn = questions_text.frontier_file(choice, further, self.svg)
            self._save([*files, drawn], [*told, f"wrote {self.svg}"])

    def _programme(self, study: Study, aim: str) -> tuple[list[Output], list[str]]:
        if not self.model:
            return [], []
        data, words = model_file(study, aim, self.model)
        return [Output(self.model, data, force=True)], [f"wrote {self.model}{words}"]

    def _save(self, files: Sequence[Output], told: Sequence[str]) -> None:
        save_all(files)
        if not self.quiet:
            put(*told)
