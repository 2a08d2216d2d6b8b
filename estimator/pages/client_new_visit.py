"""A new visit of a client who is kept: the code goes on, few answers go on, and the others wait to be confirmed."""

from typing import TYPE_CHECKING

from estimator.access.roles import Right
from estimator.pages import opened_client, person, unfinished
from estimator.pages.draft import Draft
from estimator.pages.frame import go_to

if TYPE_CHECKING:
    from estimator.records.remembering import ClientMemory


def draft_for(memory: "ClientMemory") -> Draft:
    """The visit as it begins: nothing on health counts as answered."""
    from estimator.care.asking_again import sort_earlier

    details, last = memory.details, memory.consultations[0] if memory.consultations else None
    earlier = sort_earlier(last.facts if last is not None else {})
    return Draft(
        client=details.code,
        demo=details.demo,
        answers=earlier.kept,
        told_before=earlier.to_confirm,
        asked_anew=earlier.anew,
        told_on=last.day if last is not None else None,
    )


def begin(memory: "ClientMemory") -> None:
    """Take that visit in hand and go to its first step; the one in hand before stays among the unfinished ones."""
    person.must(Right.WORK)
    unfinished.begin(draft_for(memory))
    opened_client.close()
    go_to("photograph")
