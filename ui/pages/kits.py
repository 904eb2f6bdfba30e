"""Kits: choose a card family, see which piece fills each role and why, and what is still wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from catalogue.shapes.changes import Changes
from catalogue.shapes.finding import Evidence, Finding, Level
from catalogue.shapes.host_form import HostFacts
from catalogue.shapes.kit import Kit, Pin
from catalogue.shapes.mending import Change, ChangeKind, Mending
from catalogue.shapes.releases import AddedRelease
from catalogue.shapes.results import Accepted, FamilyInfo, FamilyMatch, HostInfo, WordGiven, WrittenKit
from catalogue.shapes.why_not import WhyNot
from ui import tasks, text
from ui.evidence import show_evidence
from ui.jobs import Asked, Stopper
from ui.look import unit
from ui.models.said_rows import SaidRow
from ui.pages.page import PageWidget
from ui.session import Open, Session
from ui.widgets.basics import Button, Sheet, Words
from ui.widgets.host_form import HostForm
from ui.widgets.host_pick import HostPick
from ui.widgets.kit_view import KitView
from ui.widgets.record_source import record_source
from ui.widgets.release_form import ReleaseForm
from ui.widgets.said_list import SaidList
from ui.widgets.saved_pick import SavedPick
from ui.widgets.say_so import SaySo
from ui.widgets.scan_box import Pasted
from ui.widgets.update_sheet import UpdateSheet

if TYPE_CHECKING:
    from ui.widgets.draft_view import DraftView

Judged: TypeAlias = tuple[Kit, Mapping[str, tasks.Named], list[WordGiven]]
HINT = (
    "Choose a card family on the left, or paste how the card shows itself: a line from a PCI listing, a Windows "
    "hardware ID, a dump of its configuration space."
)
OURS = (
    "{id} came with the program, so its file is left alone. Make a variant of it in {folder} "
    '(extends = "{id}"), and add the release there.'
)
NO_FAMILY = (
    "No card family is known here yet. A family file (TOML) goes into {folder}, or into a folder that is named with "
    "--families when the program is started."
)


class Kits(PageWidget):
    """The page of that name."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        step = unit(self)
        self._families: dict[str, FamilyInfo] = {}
        self._pins: dict[tuple[str, str], dict[str, Pin]] = {}
        self._pinned: dict[tuple[str, str], dict[str, str]] = {}
        self._routes: dict[str, tuple[tasks.RouteInfo, ...]] = {}
        self._mode = ""
        self._wish = ""
        self.family = ""
        self.route = ""
        self.kit: Kit | None = None
        left = self._left = Sheet(self)
        left.column.setContentsMargins(1, step, 1, 1)
        inner = QVBoxLayout()
        inner.setContentsMargins(step, 0, step, 0)
        inner.setSpacing(step // 2)
        inner.addWidget(Words("The card as it shows itself", left, soft=True))
        self.shown = Pasted(left)
        self.shown.setAccessibleName("The card as it shows itself")
        self.shown.setPlaceholderText("paste, then Return")
        self.shown.returnPressed.connect(self._find)
        inner.addWidget(self.shown)
        inner.addSpacing(step)
        inner.addWidget(Words("The machines it is for", left, soft=True))
        self.hosts = HostPick(left)
        self.hosts.picked.connect(self._host_picked)
        inner.addWidget(self.hosts)
        self.host_told = Words("", left, soft=True, factor=0.9)
        inner.addWidget(self.host_told)
        self.new_host = Button("New", left, kind="small")
        self.edit_host = Button("Edit", left, kind="small")
        self.keep_host = Button("From a file", left, kind="small")
        row = QHBoxLayout()
        row.setSpacing(step // 2)
        for button, name, act in (
            (self.new_host, "Tell of a new host", self._new_host),
            (self.edit_host, "Edit this host", self._edit_host),
            (self.keep_host, "Keep a host file", self._keep_host),
        ):
            button.setAccessibleName(name)
            button.clicked.connect(act)
            row.addWidget(button)
        row.addStretch(1)
        inner.addLayout(row)
        inner.addSpacing(step)
        inner.addWidget(Words("What the cards say of themselves", left, soft=True))
        self.saved = SavedPick(left)
        self.saved.changed.connect(self._saved_given)
        self._saved: dict[str, tuple[Path, ...]] = {}
        inner.addWidget(self.saved)
        inner.addSpacing(step)
        inner.addWidget(Words("Card families", left, soft=True))
        left.column.addLayout(inner)
        self.list = SaidList("Card families", left)
        self.list.picked.connect(self._picked)
        left.column.addWidget(self.list, 1)
        self.draft = Button("Draft a family", left, kind="small")
        self.draft.clicked.connect(self.open_draft)
        foot = QHBoxLayout()
        foot.setContentsMargins(step, 0, step, step // 2)
        foot.addWidget(self.draft)
        foot.addStretch(1)
        left.column.addLayout(foot)
        self._empty = Words(HINT, self, soft=True)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setContentsMargins(step * 8, 0, step * 8, 0)
        self.view = KitView(session.ages, self)
        self.view.route_picked.connect(self._route_picked)
        self.view.piece_wanted.connect(lambda sha: session.wanted.emit(Open("Shelf", piece=sha)))
        self.view.evidence_wanted.connect(self._show_evidence)
        self.view.why_wanted.connect(self._why_not)
        self.view.change_wanted.connect(self._make_change)
        self.view.word_wanted.connect(self._give_word)
        self.view.pin_wanted.connect(self._pin)
        self.view.unpin_wanted.connect(self._unpin)
        self.view.release_wanted.connect(self._add_release)
        self.view.decisions.unpinned.connect(self._unpin)
        self.view.decisions.taken_back.connect(self._take_back)
        self.view.accept_wanted.connect(self._accept)
        self.view.write_wanted.connect(self._write_out)
        self.view.sheet_wanted.connect(self._save_sheet)
        self.view.stop_wanted.connect(self._stop)
        self._stack = QStackedWidget(self)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self.view)
        self.drafting: DraftView | None = None
        split = QSplitter(Qt.Orientation.Horizontal, self)
        split.setChildrenCollapsible(False)
        split.setHandleWidth(step)
        split.addWidget(left)
        split.addWidget(self._stack)
        split.setStretchFactor(1, 1)
        split.setSizes([step * 34, step * 150])
        outer = QVBoxLayout(self)
        outer.setContentsMargins(step * 2, step * 2, step * 2, step)
        outer.addWidget(split)
        self._asked: Asked | None = None
        self._look()
        self._look_for_hosts()

    def refresh(self, changes: Changes) -> None:
        """Families again when they changed; the kit again when anything it rests on did."""
        if changes.families:
            self._routes.clear()
            self._look()
        if changes.media and self.family:
            self._look_at_written()
        if (changes.pieces or changes.vouching or changes.words or changes.families) and self.family:
            self._judge()

    def open(self, wish: Open) -> None:
        """Show a family, with the route that leaves the mode the card is in."""
        if wish.ids:
            self.shown.paste_text(wish.ids)
        if wish.family:
            self._take(wish.family, wish.mode)

    def _look(self) -> None:
        context = self.session.context
        self.session.lane("families").ask(
            lambda stopper: tasks.families(context), self._looked, self._failed, instead_of="families"
        )

    def open_draft(self) -> None:
        """Show the draft of a family, as it was left."""
        if self.drafting is None:
            from ui.widgets.draft_view import DraftView

            self.drafting = DraftView(self.session, self)
            self.drafting.left.connect(lambda: self._show(self.view if self.family else self._empty))
            self.drafting.kept.connect(self._take_kept)
            self._stack.addWidget(self.drafting)
        self._show(self.drafting)
        self.drafting.given.folder.setFocus()

    def _show(self, widget: QWidget) -> None:
        """Show one of the three on the right; a draft has the whole page."""
        self._stack.setCurrentWidget(widget)
        self._left.setVisible(widget is not self.drafting)

    def _take_kept(self, family: str) -> None:
        """Go on to a family that was accepted; the list may not hold it yet."""
        self._wish = family

    def _looked(self, families: list[FamilyInfo]) -> None:
        self._families = {one.id: one for one in families}
        rows = [
            SaidRow(
                one.id,
                text.plain(one.title, 80),
                ("" if one.settled else "not settled; ")
                + text.count(len(one.routes), "route")
                + (f", known as of {one.as_of.isoformat()}" if one.as_of else ""),
                "" if one.settled else "caution",
            )
            for one in sorted(families, key=lambda one: one.title.casefold())
        ]
        self.list.show_rows(rows)
        self._empty.say(HINT if rows else NO_FAMILY.format(folder=tasks.families_folder()))
        if not self.kit:
            self.told.emit(text.count(len(families), "card family", "card families"))
        if self.family in self._families:
            self.view.show_family(self._families[self.family])
        if self._wish:
            wish, self._wish = self._wish, ""
            self._take(wish, self._mode)

    def _look_for_hosts(self, taken: str = "") -> None:
        self.session.lane("families").ask(
            lambda stopper: tasks.hosts(),
            lambda found: self._hosts_known(found, taken),
            self.session.trouble,
            instead_of="hosts",
        )

    def _hosts_known(self, found: list[HostInfo], taken: str) -> None:
        self.hosts.show_hosts(found, taken)
        self._tell_host()

    def _tell_host(self) -> None:
        """Say below the pick what is told of the machines that are picked."""
        one = self.hosts.info
        self.edit_host.setEnabled(one is not None)
        if one is None:
            self.host_told.say("Nothing is known of them, so nothing is checked against them.")
        elif one.problems:
            first = one.problems[0]
            self.host_told.say(f"Its file cannot be used. Line {first.line}: {first.text}")
        else:
            rows = (("bench", one.bench), ("destination", one.destination))
            self.host_told.say("\n".join(f"{what}: {', '.join(said) or 'not known'}" for what, said in rows))

    def _host_picked(self, name: str) -> None:
        self._tell_host()
        if self.family and self.route:
            self._judge()

    def _saved_given(self, files: tuple[Path, ...]) -> None:
        self._saved[self.family] = files
        if self.family and self.route:
            self._judge()

    def _new_host(self) -> None:
        self._open_host(HostFacts())

    def _edit_host(self) -> None:
        one = self.hosts.info
        if one is not None:
            self.session.lane("families").ask(
                lambda stopper: tasks.host_facts(one.file), self._open_host, self.session.trouble
            )

    def _open_host(self, facts: HostFacts) -> None:
        form = HostForm(self.session, facts, self)
        form.kept.connect(lambda done: self._host_kept(HostInfo(done.name, done.file)))
        form.open()

    def _keep_host(self) -> None:
        where, _ = QFileDialog.getOpenFileName(self, "A host file to keep", "", "Host files (*.toml)")
        if where:
            self.session.lane("write").ask(
                lambda stopper: tasks.keep_host(Path(where)), self._host_kept, self.session.trouble
            )

    def _host_kept(self, one: HostInfo) -> None:
        self.session.say("good", f"The host {text.plain(one.name, 80)} is kept; kits are judged for it now.")
        self.hosts.show_hosts([one], one.name)
        self._look_for_hosts(one.name)
        self._host_picked(one.name)

    def _take(self, family: str, mode: str = "") -> None:
        self._mode = mode
        if family not in self._families:
            self._wish = family
            return
        self.list.stand_on(family, quietly=True)
        self._picked(family)

    def _picked(self, family: str) -> None:
        self.family = family
        self.route = ""
        self.kit = None
        context, mode = self.session.context, self._mode
        self._mode = ""
        self.saved.show_files(self._saved.get(family, ()))
        self.view.begin(self._families[family])
        self._show(self.view)
        self._look_at_written()
        self.session.lane("families").ask(
            lambda stopper: tasks.routes(context, family),
            lambda routes: self._routes_known(family, routes, mode),
            self._failed,
            instead_of="routes",
        )

    def _look_at_written(self) -> None:
        family, context = self.family, self.session.context

        def done(found: list[WrittenKit]) -> None:
            if family == self.family:
                self.view.written.show_kits([one for one in found if one.family == family])

        self.session.lane("families").ask(
            lambda stopper: tasks.written_kits(context), done, self.session.trouble, instead_of="written"
        )

    def _routes_known(self, family: str, routes: tuple[tasks.RouteInfo, ...], mode: str) -> None:
        if family != self.family:
            return
        self._routes[family] = routes
        fitting = [one for one in routes if mode and one.source == mode] or list(routes)
        self.route = fitting[0].id if fitting else ""
        self.view.show_routes(routes, self.route)
        self._judge()

    def _route_picked(self, route: str) -> None:
        if route != self.route:
            self.route = route
            self._judge()

    def _judge(self) -> None:
        family, route, context = self.family, self.route, self.session.context
        if not route:
            self.view.fail("This family file gives no route that can be read.")
            return
        pins, host = tuple(self._pins.get((family, route), {}).values()), self.hosts.host
        saved = self._saved.get(family, ())
        self.view.prove(family, route)

        def work(stopper: Stopper) -> Judged:
            kit = tasks.kit(context, family, route, pins, stopper, host, saved=saved)
            return kit, tasks.names_for(context, kit), tasks.words(context, family)

        self._asked = self.session.lane("kit").ask(
            work, self._judged, self._not_judged, told=self.view.show_at, instead_of="kit"
        )

    def _judged(self, answer: Judged) -> None:
        kit, named, words = answer
        if (kit.family, kit.route) != (self.family, self.route):
            return
        self.kit = kit
        self.view.show_kit(kit, named)
        self.view.decisions.show_kit(kit, words, named, self._pinned.get((kit.family, kit.route), {}))
        stops = sum(one.level is Level.STOP for one in kit.findings)
        state = "ready" if kit.verdict == "ready" else f"not ready, {text.count(stops, 'stop')}"
        self.told.emit(f"{text.plain(kit.family_title, 40)}: {state}")
        self._look_how_to_mend(kit)

    def _look_how_to_mend(self, kit: Kit) -> None:
        """Work out in the background what would make it ready; news of another kit is not shown."""
        if kit.verdict == "ready":
            self.view.mend.show_nothing()
            return
        self.view.mend.show_looking()
        context, host, saved = self.session.context, self.hosts.host, self._saved.get(self.family, ())

        def found(answer: Mending) -> None:
            if self.kit is kit:
                self.view.mend.show_found(answer)

        def failed(sentence: str) -> None:
            if self.kit is kit:
                self.view.mend.show_trouble(sentence)

        self.session.lane("mend").ask(
            lambda stopper: tasks.mending(context, kit.family, kit.route, kit.pins, stopper, host, saved=saved),
            found,
            failed,
            instead_of="mend",
        )

    def _why_not(self, role: str, piece: str) -> None:
        kit, context, host = self.kit, self.session.context, self.hosts.host
        saved = self._saved.get(self.family, ())
        if kit is None:
            return

        def shown(why: WhyNot) -> None:
            from ui.widgets.why_sheet import WhySheet

            sheet = WhySheet(why, self.window())
            sheet.evidence_wanted.connect(self._show_evidence)
            sheet.evidence_wanted.connect(sheet.accept)
            sheet.open()

        self.session.lane("mend").ask(
            lambda stopper: tasks.why_not(context, kit.family, kit.route, kit.pins, (role, piece), host, saved=saved),
            shown,
            self.session.trouble,
            instead_of="why",
        )

    def _show_evidence(self, evidence: Evidence, piece: str | None) -> None:
        show_evidence(self.session, evidence, piece, self, lambda role: self.view.to_decisions(), self._tell_of_host)

    def _tell_of_host(self) -> None:
        (self._edit_host if self.hosts.host else self._new_host)()

    def _make_change(self, change: Change) -> None:
        """Open what a proposed change asks for; nothing is decided without the person."""
        if change.route is not None:
            self.view.take_route(change.route)
        elif change.kind is ChangeKind.PIN:
            self._pin(change.role or "", change.piece or "")
        elif change.kind is ChangeKind.UNPIN:
            self._unpin(change.role or "")
        elif change.kind is ChangeKind.SETTLE:
            self._accept()
        elif change.kind is ChangeKind.VOUCH:
            record_source(self.session, self, self.session.say)
        elif change.kind is ChangeKind.HOST:
            self._tell_of_host()
        elif change.kind is ChangeKind.BENCH:
            self._new_host()
        elif change.kind is ChangeKind.WORD and self.kit is not None:
            said = [one for one in self.kit.findings if (one.code, one.piece) == (change.code, change.piece)]
            if said:
                self._give_word(said[0])
            else:
                self.session.say("note", "That finding comes with the other changes; make those first.")

    def _not_judged(self, sentence: str) -> None:
        self.kit = None
        self.view.fail(sentence)
        self.told.emit("not proved")

    def _stop(self) -> None:
        if self._asked is not None:
            self._asked.stopper.stop()

    def _find(self) -> None:
        said, context = self.shown.whole_text().strip(), self.session.context
        if said:
            self.session.lane("families").ask(
                lambda stopper: tasks.find_family(context, said), self._found, self.session.trouble, instead_of="find"
            )

    def _found(self, matches: list[FamilyMatch]) -> None:
        if not matches:
            self.session.say("caution", "No card family answers to that. Its IDs may not be in any family file here.")
            return
        first = matches[0]
        rest = f" {len(matches) - 1} more answer to it too." if len(matches) > 1 else ""
        self.session.say("good", f"{first.title}, {text.name_of(first.mode)}: {first.why}.{rest}")
        self._take(first.id, first.mode)

    def _give_word(self, finding: Finding) -> None:
        words = (
            f"{text.plain(finding.text)} Your word clears this one finding ({finding.code}) for this one content. "
            "It becomes a caution that travels with the kit, with your reason and name."
        )
        form = SaySo("Give your word", words, "Give it", self.session.settings, self, named=True)
        family, context = self.family, self.session.context

        def given() -> None:
            by = form.by.text().strip() if form.by else ""
            reason = form.reason.text().strip()
            code, piece = finding.code, finding.piece or ""
            self.session.lane("write").ask(
                lambda stopper: tasks.give_word(context, family, code, piece, reason=reason, by=by),
                self.session.hand_round,
                self.session.trouble,
            )

        form.accepted.connect(given)
        form.open()

    def _pin(self, role: str, sha256: str) -> None:
        words = (
            f"Takes piece {text.short_hash(sha256)} for {text.name_of(role)} in this kit, whatever speaks against it; "
            "what speaks against it is then said as findings."
        )
        form = SaySo("Pin a choice", words, "Pin it", self.session.settings, self, named=True)

        def pinned() -> None:
            by = form.by.text().strip() if form.by else ""
            pins = self._pins.setdefault((self.family, self.route), {})
            pins[role] = Pin(role, sha256, form.reason.text().strip(), by)
            when = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
            self._pinned.setdefault((self.family, self.route), {})[role] = when
            self._judge()

        form.accepted.connect(pinned)
        form.open()

    def _unpin(self, role: str) -> None:
        self._pins.get((self.family, self.route), {}).pop(role, None)
        self._judge()

    def _take_back(self, word: WordGiven) -> None:
        context = self.session.context

        def done(changes: Changes) -> None:
            self.session.say("note", f"The word of {text.plain(word.by, 80)} on {word.code} is taken back.")
            self.session.hand_round(changes)

        self.session.lane("write").ask(
            lambda stopper: tasks.take_back_word(context, word.family, word.code, word.sha256),
            done,
            self.session.trouble,
        )

    def _add_release(self) -> None:
        info = self._families.get(self.family)
        if info is None:
            return
        if info.shipped:
            self.session.say("note", OURS.format(id=info.id, folder=tasks.families_folder()))
            return
        form = ReleaseForm(self.session, info, self)

        def added(done: AddedRelease) -> None:
            self.session.say(
                "good",
                f"The release stands at line {done.line} of {text.short_place(done.file)}. The file is unsettled until "
                "you have read it and accepted it again.",
            )
            self.session.hand_round(Changes(families=True))

        form.added.connect(added)
        form.open()

    def _accept(self) -> None:
        info = self._families.get(self.family)
        if info is None:
            return
        context, file = self.session.context, Path(info.file)

        def accept() -> None:
            self.session.lane("write").ask(
                lambda stopper: tasks.accept_family(context, file), self._accepted, self.session.trouble
            )

        def looked(found: Accepted) -> None:
            if found.problems:
                self._accepted(found)
            elif found.update is None:
                accept()
            else:
                sheet = UpdateSheet(info.title, found.update, self)
                sheet.accepted.connect(accept)
                sheet.open()

        self.session.lane("write").ask(
            lambda stopper: tasks.look_at_family(context, file, stopper), looked, self.session.trouble
        )

    def _accepted(self, done: Accepted) -> None:
        if done.settled:
            self.session.say(
                "good", f"{done.id} is settled; its file is known by SHA-256 {text.short_hash(done.sha256)}."
            )
        else:
            first = done.problems[0] if done.problems else None
            why = f" {first.file}, line {first.line}: {first.text}" if first else ""
            self.session.say("stop", f"{done.id} cannot be settled.{why}")
        self.session.hand_round(done.changes)

    def _write_out(self) -> None:
        if self.kit is not None:
            self.session.wanted.emit(Open("Media", kit=self.kit))

    def _save_sheet(self) -> None:
        if self.kit is None:
            return
        family, route, context = self.family, self.route, self.session.context
        pins, host = tuple(self._pins.get((family, route), {}).values()), self.hosts.host
        saved = self._saved.get(family, ())
        where, _ = QFileDialog.getSaveFileName(self, "Save the run sheet", "RUNSHEET.TXT", "Text (*.TXT *.txt)")
        if where:
            self.session.lane("write").ask(
                lambda stopper: tasks.save_run_sheet(context, family, route, pins, Path(where), host, saved),
                lambda path: self.session.say("good", f"The run sheet is in {path}."),
                self.session.trouble,
            )

    def _failed(self, sentence: str) -> None:
        self.told.emit("the catalogue does not answer")
        self.session.trouble(sentence)
