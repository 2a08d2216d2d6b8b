"""The rules of care as a page to read: `python -m estimator.care.manual` prints docs/care_rules.md from the tables."""

import sys
from collections.abc import Iterable
from itertools import groupby

from estimator.care.cautions import Caution, first_aid, standing_order, usual_cautions
from estimator.care.expressions import Kind
from estimator.care.questions import PLAN_FIGURES, QUESTIONS, FactSpec, Question
from estimator.care.rules import About, Rule, load_rules

_HEAD = """# Rules of care

Printed from the tables in `estimator/care/tables/` by `python -m estimator.care.manual > docs/care_rules.md`.
Change the tables, not this page. Sources are keys of [sources.md](sources.md).

{standing_order}

## How a verdict is reached

- Facts are what the consultation and the plan say; each may be open. Rules are plain conditions over facts.
- The worst verdict wins: stop, test first, caution, clear. Every rule that fires is shown, the worst first.
- Severity is the harm if a finding is ignored: 5 injury, 4 hair lost or allergy likely, 3 hair damaged, 2 bad colour,
  1 nuisance.
- An open answer is neither yes nor no. Where a stop or a test hangs on it, the verdict is "test first", and the
  finding `answer-missing` names what to ask (our assumption). Where only a caution hangs on it, one line
  `answer-open` says so.
- "Nobody knows with what" is an answer and has rules of its own; it is not the same as an open question.
- Zones may differ: what is marked "by zone" below may be answered for one zone otherwise than for the head (a broken
  crown, relaxed ends, natural roots). Rules "of a zone" look at each zone, and their stop withholds that zone's plan
  alone. Rules "of the head" speak of the whole person, law, skin, allergy and metal among them: they look at every
  zone, and their stop withholds everything. Metal counts for the head because the rinse carries peroxide over all of
  it (our assumption). Hair that was never relaxed still lies beside hair that was, and keeps that caution.
- A finding that all zones share is told once, of the head.
- Rules only ever make a verdict stricter, so a limit from memory, or one of our own, never opens anything.

## Answers

A test-first finding is answered, never switched off. The named test is written down with name, day, place and strength,
or the doctor's word with name and day. A test counts for 30 days (our assumption) and for its strength or less. The
finding is then a caution and stays in the report. An answer covers the zone that it names, or the head where it names
none. Only rules marked "a doctor" or "a written test" are answered like this. The others change when the facts change:
a patch test made and read, a weaker developer, a strand test passed.

No note opens a stop. Those marked "no signature" stand for law or injury. First aid is never behind a stop.

## Conditions that look odd at first

Facts made worse must never give a milder verdict; tests try it. That is why

- `dye-on-dye` fires with lightener in the plan too: adding lightener must not take a caution away;
- `scalp-tender` counts irritated skin where nothing in the plan makes it a stop: skin that goes from flaking to
  irritated must not lose its caution under direct dye;
- `cancer-now` and `cancer-recent` count straightening: their source names relaxers.
"""


def care_manual() -> str:
    """The whole page, Markdown."""
    parts = [_HEAD.format(standing_order=standing_order())]
    parts += ["## Rules\n"]
    parts += [_topic(topic, list(rules)) for topic, rules in groupby(load_rules(), key=lambda rule: rule.topic)]
    parts += ["## Beside every formula\n", _caution_rows(usual_cautions())]
    parts += ["## First aid\n", _caution_rows(first_aid())]
    parts += ["## Questions\n", _question_rows(QUESTIONS), "## Figures of the plan\n", _figure_rows(PLAN_FIGURES)]
    return "\n".join(parts)


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return "".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |\n" for line in lines)


def _topic(topic: str, rules: list[Rule]) -> str:
    head = ("code", "verdict", "of", "when", "what it says", "what to do", "severity", "opened by", "sources")
    return f"### {topic[0].upper()}{topic[1:]}\n\n" + _table(head, (_rule_row(rule) for rule in rules))


def _rule_row(rule: Rule) -> tuple[str, ...]:
    opened_by = "changed facts; no signature" if rule.no_signature else str(rule.answered_by)
    return (
        f"`{rule.code}`",
        str(rule.verdict),
        f"the {rule.about}" if rule.about is About.HEAD else "a zone",
        f"`{rule.when.text}`",
        rule.message,
        rule.remedy,
        str(rule.severity),
        opened_by,
        ", ".join(rule.sources),
    )


def _caution_rows(cautions: tuple[Caution, ...]) -> str:
    return _table(("what", "what to do", "sources"), ((c.title, c.text, c.source) for c in cautions))


def _question_rows(questions: tuple[Question, ...]) -> str:
    head = ("fact", "question", "allowed", "needed if", "why", "at the chair", "by zone", "sources")
    return _table(head, (_question_row(question) for question in questions))


def _question_row(question: Question) -> tuple[str, ...]:
    needed_if = f"`{question.needed_if.text}`" if question.needed_if else "always"
    told = tuple("yes" if yes else "" for yes in (question.at_chair, question.by_zone))
    cells = (f"`{question.fact}`", question.text, _allowed(question), needed_if, question.why, *told)
    return (*cells, ", ".join(question.sources))


def _figure_rows(figures: tuple[FactSpec, ...]) -> str:
    return _table(("fact", "what", "allowed"), ((f"`{f.fact}`", f.about, _allowed(f)) for f in figures))


def _allowed(spec: FactSpec) -> str:
    if spec.kind is Kind.NUMBER:
        never = getattr(spec, "never", None)
        return f"{spec.low:g} to {spec.high:g} {spec.unit}" + ("" if never is None else f"; {never:g}: never")
    if spec.kind is Kind.YES_NO:
        return "yes, no"
    return f"{spec.kind}: " + "; ".join(f"`{word}` {says}" for word, says in spec.choices)


if __name__ == "__main__":
    sys.stdout.write(care_manual())
