"""Whose danger it is: the baby's, the mother's or somebody else's."""

from collections.abc import Mapping

from bot.core.reader.phrases import Found
from bot.core.reader.scan import Scan

_PEOPLE = {
    "baby": "baby",
    "pronoun": "pronoun",
    "mother": "mother",
    "mother_named": "mother",
    "other": "other",
    "other_child": "other",
}


def subject_of(scan: Scan, f: Found, about: Mapping[str, str]) -> tuple[str | None, str]:
    """Whose danger it is: named in the phrase, else nearest before it in the sentence, else after it.

    about  who may have this danger
    Returns the person and 'yes' (named), 'loosely' (by a pronoun), 'other' (somebody else) or 'no'.
    """
    begin, end = clause_of(scan, f)
    people = people_in(scan, begin, end)
    if "mother" not in about:  # in 'refuses my breast' her 'my' tells nothing
        people = [p for p in people if scan.from_(p.start, "list.possessive") != p.end]
    inside = [p for p in people if f.start <= p.start and p.end <= f.end]
    before = [p for p in people if p.start < f.start and _may_have(scan, p, f, about)]
    after = [p for p in people if p.start >= f.end]
    for group, nearest in ((inside, 0), (before, -1), (after, 0)):
        if group:
            return _named(scan, group[nearest])
    earlier = [p for p in people_in(scan, 0, begin) if _PEOPLE[p.label[5:]] != "other"]
    earlier = [p for p in earlier if _may_have(scan, p, f, about)]
    return _named(scan, earlier[-1]) if earlier else (None, "no")


def _may_have(scan: Scan, person: Found, f: Found, about: Mapping[str, str]) -> bool:
    """'Baby is well, but heavy bleeding': who is named in a clause before counts if it can be hers or his."""
    who = _PEOPLE[person.label[5:]]
    if who not in ("baby", "mother") or who in about:
        return True
    between = scan.tokens[person.end : f.start]
    return all(t.kind not in ("comma", "stop") for t in between) and not scan.within(
        "frame.but", person.end, f.start
    )


def clause_of(scan: Scan, f: Found) -> tuple[int, int]:
    """The sentence around a danger, no further than 'but' on either side: there another may be meant."""
    begin, end = scan.sentence(f.start)
    for but in scan.within("frame.but", begin, end):
        if but.end <= f.start:
            begin = but.end
        elif but.start >= f.end:
            return begin, but.start
    return begin, end


def people_in(scan: Scan, begin: int, end: int) -> list[Found]:
    """Everybody named in these tokens in order; 'my sister's baby' is one person, not three."""
    found = [p for p in scan.found if p.label.startswith("list.") and p.label[5:] in _PEOPLE]
    found = [p for p in found if begin <= p.start and p.end <= end]
    found = [p for p in found if not any(_covers(q, p) for q in found)]
    return [p for p in found if not _reports(scan, p, end) and not _tends(scan, p)]


def _tends(scan: Scan, person: Found) -> bool:
    """'I held her', 'I counted': the mother sees to somebody, and has nothing herself."""
    return person.label == "list.mother" and scan.from_(person.end, "frame.tends") is not None


def _reports(scan: Scan, person: Found, end: int) -> bool:
    """'My mother says': she tells of somebody else's danger. Some languages end the sentence with it."""
    if person.label != "list.other":
        return False
    near = range(person.end, min(person.end + 3, end))
    return any(scan.from_(at, "frame.reports") is not None for at in near) or (
        scan.until(end, "frame.reports") is not None
    )


def _covers(q: Found, p: Found) -> bool:
    return q.start <= p.start and p.end <= q.end and (q.end - q.start) > (p.end - p.start)


def _named(scan: Scan, person: Found) -> tuple[str | None, str]:
    """A pronoun means whoever was last named; nobody: the mother, if another writes, else the baby."""
    who = _PEOPLE[person.label[5:]]
    if who == "other":
        return None, "other"
    if who != "pronoun":
        return who, "yes"
    named = [
        p for p in people_in(scan, 0, person.start) if p.label[5:] in ("baby", "mother_named", "other_child")
    ]
    if named:
        last = _PEOPLE[named[-1].label[5:]]
        return (None, "other") if last == "other" else (last, "yes")
    return ("mother" if scan.all("frame.for_mother") else "baby"), "loosely"
