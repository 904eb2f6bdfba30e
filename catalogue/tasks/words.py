"""A person's word: it clears one finding for one content in one family, with a reason and a name."""

from __future__ import annotations

from catalogue.errors import BadCall
from catalogue.kits.kit_rules import KIT_RULES
from catalogue.kits.piece_rules import PIECE_RULES
from catalogue.kits.rule import Weight
from catalogue.media.target_rules import TARGET_RULES
from catalogue.shapes.changes import Changes
from catalogue.shapes.kit import Word
from catalogue.store import Store
from catalogue.tasks import known
from catalogue.tasks.context import Context
from catalogue.tasks.hashes import whole_hash


def give(context: Context, family: str, code: str, sha256: str, reason: str, by: str) -> Changes:
    """Record a word. Raises BadCall without reason or name, or for a code that no word clears."""
    with Store.open(context.catalogue) as store:
        of = known.family(known.families(context, store), family)
        record(store, of.id, Word(code, whole_hash(store, sha256), reason, by))
    return Changes(words=True)


def record(store: Store, family: str, word: Word) -> None:
    """Record a word in an open store; see `give`."""
    if not word.reason.strip() or not word.by.strip():
        raise BadCall("A word needs a reason and the name of whoever gives it.")
    clearable = {rule.code: rule.level is Weight.CLEARABLE for rule in PIECE_RULES}
    clearable |= {rule.code: rule.level is Weight.CLEARABLE for rule in KIT_RULES}
    clearable |= {rule.code: rule.level is Weight.CLEARABLE for rule in TARGET_RULES}
    if word.code not in clearable:
        raise BadCall(f"No rule has the code {word.code}.")
    if not clearable[word.code]:
        raise BadCall(f"No word clears {word.code}: what it finds must be mended, not decided.")
    store.give_word(family, word)
