"""Why a piece is not the one that was chosen for a role.

It goes the judge's own way: the same weighing, the same choice, the same codes as the kit's `others`. A piece that is
not near at all is asked what would have made it near.
"""

from __future__ import annotations

from collections.abc import Iterable

from catalogue.kits.asked import Asked, Wanted, ask
from catalogue.kits.candidate import Candidate, Question
from catalogue.kits.choose import Pick, choose
from catalogue.kits.criteria import NO, SILENT, YES, Answer, answers, place_of
from catalogue.kits.images import Image, images_of
from catalogue.kits.names import readable
from catalogue.kits.nearness import asked_of
from catalogue.kits.others import OLDER, TIE, why_not
from catalogue.kits.weigh import Status, Weighed, weigh
from catalogue.kits.words import words_of
from catalogue.shapes.finding import Evidence
from catalogue.shapes.why_not import Asking, WhyNot

CHOSEN, NOT_NEAR = "chosen", "not-near"
STANDS = {Status.CANDIDATE: "candidate", Status.WAITING: "waiting", Status.MISS: "miss"}
_MEANS = {
    "hash": "a release names its SHA-256 for this role",
    "ids": "it names the card that this role wants",
    "has": "it holds the text that this role wants",
    "layout": "the role's layout fits it",
}


def explain(question: Question, wishes: Iterable[tuple[str, str]]) -> tuple[WhyNot, ...]:
    """Why each (role, SHA-256) of `wishes` was not chosen. Raises KeyError for a role or piece not in the question."""
    asked = ask(question)
    words = words_of(question.words)
    images = {sha256: images_of(one.reading) for sha256, one in asked.candidates.items()}
    near = {name: weigh(asked, wanted, words, images) for name, wanted in asked.wanted.items()}
    picks = {one.role: one for one in choose(asked, near, words).picks}
    return tuple(_explained(asked, picks[role], asked.candidates[sha256], images[sha256]) for role, sha256 in wishes)


def _explained(asked: Asked, pick: Pick, candidate: Candidate, images: tuple[Image, ...]) -> WhyNot:
    wanted = pick.wanted
    nearness = asked_of(asked, wanted, candidate, images)
    fit = tuple(_asking(asked, wanted, candidate, one) for one in answers(asked, wanted, candidate, images))
    weighed = next((one for one in pick.near if one.sha256 == candidate.sha256), None)
    role, name = wanted.role.name, readable(candidate)
    if weighed is None:
        text = f"{name} is not near {role}: nothing that would make it near says yes."
        return WhyNot(role, candidate.sha256, name, NOT_NEAR, text, nearness=nearness, fit=fit)
    version = weighed.case.version
    chosen = weighed is pick.chosen
    why = () if chosen else why_not(pick, weighed, pick.tied_pieces)
    than: tuple[str, ...] = ()
    text = f"{name} is the piece that was chosen for {role}."
    if not chosen:
        than, text = _lost(asked, pick, weighed, why, name)
    return WhyNot(
        role=role,
        piece=candidate.sha256,
        name=name,
        stands=CHOSEN if chosen else STANDS[weighed.status],
        text=text,
        why=why,
        than=than,
        version=version.name if version is not None else None,
        version_source=version.source if version is not None else "",
        vouch=weighed.case.standing.rung,
        nearness=nearness,
        fit=fit,
        stops=weighed.stops,
    )


def _asking(asked: Asked, wanted: Wanted, candidate: Candidate, one: Answer) -> Asking:
    """A criterion's answer; where it says no, the rule's own words and evidence."""
    if one.says == NO:
        return Asking(one.criterion, NO, one.text, one.evidence)
    role = wanted.role
    decides = "it decides" if one.criterion in role.decide else "it does not decide"
    means = _MEANS.get(one.criterion, one.criterion)
    key = "decide" if one.criterion == "hash" else one.criterion
    line = Evidence(asked.line(f"role.{role.name}.{key}", f"role.{role.name}"), key)
    shown = _shown(asked, wanted, candidate, one)
    if one.says == YES:
        return Asking(one.criterion, YES, f"{means[0].upper()}{means[1:]}; {decides}.", (*shown, line))
    text = f"Nothing shows that {means}, and nothing speaks against it."
    return Asking(one.criterion, SILENT, text, (*shown, line))


def _shown(asked: Asked, wanted: Wanted, candidate: Candidate, one: Answer) -> tuple[Evidence, ...]:
    """Where in the piece the answer was read."""
    if one.criterion == "has" and wanted.right is not None and (match := candidate.matches.get(wanted.right)):
        return (Evidence(place_of(candidate), "has", match.offset, match.length, wanted.right, wanted.right),)
    if one.criterion == "layout" and wanted.layout is not None:
        layout = wanted.layout
        magic = layout.magic.hex(" ").upper()
        return (Evidence(place_of(candidate), "magic", layout.magic_at, len(layout.magic), magic, ""),)
    if one.criterion == "ids":
        asking = [one for one in asked_of(asked, wanted, candidate, images_of(candidate.reading)) if one.what == "ids"]
        return asking[0].evidence[:1] if asking else ()
    return ()


def _lost(asked: Asked, pick: Pick, one: Weighed, why: tuple[str, ...], name: str) -> tuple[tuple[str, ...], str]:
    """The pieces it lost to or ties with, and why in words."""
    role, chosen = pick.role, pick.chosen
    if TIE in why:
        others = tuple(sorted(pick.tied_pieces - {one.sha256}))
        names = ", ".join(readable(asked.candidates[sha256]) for sha256 in others)
        return others, f"{name} ties for {role} with {names}: equal in vouching, version and rung. A person picks."
    than = (chosen.sha256,) if chosen is not None else ()
    if one.status is not Status.CANDIDATE:
        codes = ", ".join(sorted(one.codes))
        how = "A person's word could clear that" if one.status is Status.WAITING else "No word clears that"
        return than, f"{name} is stopped for {role}: {codes}. {how}."
    if one.beyond:
        top = one.case.known.top
        version = one.case.version.name if one.case.version is not None else ""
        return than, f"{name} is version {version}, above {top}, the highest known: taken by a pin only."
    if chosen is None:
        return than, f"{name} may fill {role}, but no release could be taken with it."
    if chosen.case.candidate.sha256 in {pin.sha256 for pin in pick.pins}:
        return than, f"{readable(chosen.case.candidate)} is pinned for {role}, so nothing else is taken."
    return than, _compared(one, chosen, why, name)


def _compared(one: Weighed, chosen: Weighed, why: tuple[str, ...], name: str) -> str:
    best, order = readable(chosen.case.candidate), one.case.known.order.name
    mine, theirs = one.case.version, chosen.case.version
    if OLDER in why:
        have = f"version {mine.name}" if mine is not None else "of no version that is read"
        want = theirs.name if theirs is not None else "none"
        return f"{name} is {have}; {best} is {want}, newer by the order {order}."
    vouched = f"{best} is vouched for by {chosen.case.standing.rung}, {name} by {one.case.standing.rung}"
    if "mixed-release" in why or "release-unknown" in why:
        claimed = ", ".join(release.name for release in one.case.claiming) or "no known release"
        taken = ", ".join(release.name for release in chosen.case.claiming) or "none"
        return f"{name} is of {claimed}; the release taken is {taken}, of which {best} is."
    if mine is not None and theirs is not None and one.case.known.same(mine.name, theirs.name):
        return f"{name} claims version {mine.name} as {best} does, with other bytes; {vouched}."
    return f"{vouched}; that outweighs its version ({mine.name if mine is not None else 'not read'})."
