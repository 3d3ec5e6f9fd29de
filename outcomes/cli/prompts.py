"""Ask for the fields of a row one by one on the terminal, with a way back and a summary, and take them in one line too."""

from __future__ import annotations

import select
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import typer

from outcomes.errors import OutcomesError, WrongUsage

if TYPE_CHECKING:
    from outcomes.capture.questions import EntryContext
    from outcomes.protocol import Field, Value

BACK, SAVE, DROP = "back", "save", "drop"
_STEP = 0.2
Answers = dict[str, "Value"]


@dataclass
class PromptedRow:
    """The answers so far, and the fields that were asked, in order.

    `known` are values that are not asked for; `last` is the last value of a field, in words.
    """

    context: EntryContext
    known: Answers = field(default_factory=dict)
    last: Mapping[str, str] = field(default_factory=dict)
    given: Answers = field(default_factory=dict)
    asked: list[Field] = field(default_factory=list)

    @property
    def answers(self) -> Answers:
        """What is known and what was answered to the questions that stand."""
        names = {each.id for each in self.asked}
        return {**self.known, **{name: value for name, value in self.given.items() if name in names}}

    def ask_all(self, questions: Sequence[Field]) -> bool:
        """Ask each field that was not asked and can have a value beside the others.

        `back` asks the field before again; False where that is none of these, so that earlier questions come first.
        """
        while True:
            self.asked = [each for each in self.asked if self._fits(each)]
            waiting = [
                each for each in questions if each not in self.asked and each.id not in self.known and self._fits(each)
            ]
            if not waiting:
                return True
            if self._ask(waiting[0]):
                self.asked.append(waiting[0])
            elif not self.asked:
                typer.echo("  This is the first question.")
            elif self.asked.pop() not in questions:
                return False

    def reopen(self, names: Sequence[str]) -> None:
        """Ask these fields again, or the last one where none of them was asked."""
        kept = [each for each in self.asked if each.id not in names]
        self.asked = kept if len(kept) < len(self.asked) else self.asked[:-1]

    def _fits(self, question: Field) -> bool:
        from outcomes.capture.questions import is_asked

        others = {name: value for name, value in self.answers.items() if name != question.id}
        return is_asked(question, others, self.context)

    def _ask(self, question: Field) -> bool:
        """Ask one field until the answer can be read; False for `back`."""
        from outcomes.capture.questions import question_lines, read_answer

        listed, prompt = question_lines(question, self.last.get(question.id, ""))
        for line in listed:
            typer.echo(line)
        while True:
            text = typed(prompt)
            if text.casefold() == BACK:
                return False
            value, problem = read_answer(question, text, self.context)
            if not problem:
                break
            typer.echo(f"  {problem}")
        self.given.pop(question.id, None)
        if value is not None:
            self.given[question.id] = value
        return True


def typed(prompt: str) -> str:
    """One line typed at a prompt; raises OutcomesError when the typing ends."""
    try:
        return _line(f"{prompt}: ").strip()
    except (EOFError, KeyboardInterrupt) as stop:
        typer.echo("")
        raise OutcomesError("stopped before it was saved; nothing was stored") from stop


def _line(prompt: str) -> str:
    """One line from the terminal or from a file; waits in short steps, so that an interrupt is seen at once.

    A signal that reaches another thread of the process does not end a read that is under way.
    """
    if sys.platform == "win32" or not sys.stdin.isatty():
        return input(prompt)
    typer.echo(prompt, nl=False)
    while not select.select([sys.stdin], [], [], _STEP)[0]:
        pass
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line


def say_summary(fields: Sequence[Field], answers: Mapping[str, Value]) -> None:
    """List what was answered, in the order of the questions."""
    typer.echo("Summary:")
    for each in fields:
        if each.id in answers:
            value = answers[each.id]
            shown = each.word(each.number(value) or 0) if each.levels else str(value)
            unit = f" {each.unit}" if each.unit and not each.levels else ""
            typer.echo(f"  {each.label}: {shown}{unit}")


def confirmed_save() -> str:
    """Save by Enter, go back, or drop everything."""
    while True:
        text = typed(f'Enter to save, "{BACK}" to correct, "{DROP}" to leave it').casefold()
        if text in {"", "y", "yes", SAVE}:
            return SAVE
        if text in {BACK, DROP}:
            return text
        typer.echo(f'  "{text}" is none of these.')


def answers_in_line(texts: Sequence[str], fields: Sequence[Field], context: EntryContext) -> Answers:
    """The values of FIELD=VALUE texts, by the fields' names or the words of the trade; raises WrongUsage for each slip."""
    from outcomes.capture.questions import read_answer

    answers: Answers = {}
    for text in texts:
        name, sign, value = text.partition("=")
        if not sign:
            raise WrongUsage(f'"{text}" is not FIELD=VALUE')
        found = _named(name, fields, context)
        read, problem = read_answer(found, value, context)
        if problem:
            raise WrongUsage(f"{found.id} {problem}" if problem.startswith('"') else f"{found.id}: {problem}")
        if read is not None:
            answers[found.id] = read
    missing = [each.id for each in fields if each.required and each.id not in answers]
    if missing:
        raise WrongUsage(f"also needed: {', '.join(f'{name}=…' for name in missing)}")
    return answers


def _named(name: str, fields: Sequence[Field], context: EntryContext) -> Field:
    from outcomes.capture.sheet_names import nearest

    by_name = {each.id: each for each in fields}
    by_word = {
        text.casefold(): by_name[field]
        for field, texts in context.protocol.synonyms.headings.items()
        for text in texts
        if field in by_name
    }
    known = {**by_word, **by_name}
    word = name.strip().casefold()
    for form in (word, word.replace("-", "_"), word.replace("-", " ").replace("_", " ")):
        if form in known:
            return known[form]
    raise WrongUsage(f'"{name}" is not a field here{nearest(word, tuple(known))}')
